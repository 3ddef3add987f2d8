"""How well the network in `models/` measures stances of play, where feet land and leave."""

from collections.abc import Callable

import numpy as np

from tests.rendering.cameras import VIEWS
from tests.training.crops import Crops
from tests.training.figures import Readings, off, read
from tests.training.play_crops import ROWS

# Players from this far on are small in the picture.
FAR_M = 8.0

# An orientation less sure than this, degrees, is that of a player whom somebody hides.
HIDDEN_DEG = 15.0

# Each measure with its errors, and by what they are multiplied to be printed.
_MEASURES: dict[str, tuple[Callable[[Readings], np.ndarray], float]] = {
    "hip_yaw": (lambda readings: off(readings.hip_yaw), 1.0),
    "lead_angle": (lambda readings: off(readings.lead_angle), 1.0),
    "stagger": (lambda readings: readings.stagger[:, 0] - readings.stagger[:, 2], 100.0),
}


def print_spells(crops: Crops) -> None:
    """Print errors of single pictures and of planted spells; degrees and centimetres.

    A spell's error is the mean over its pictures, its standard error their quadratic mean: errors
    of pictures so close in time are taken to be the same.
    """
    readings = read(crops)
    planted = crops.row % ROWS > 0
    far = readings.distance >= FAR_M
    for name, rows in (
        ("a foot in the air", ~planted),
        ("both feet down", planted),
        (f"within {FAR_M:g} m", planted & ~far),
        (f"beyond {FAR_M:g} m", planted & far),
    ):
        _print_line(name, readings, [np.array([row]) for row in np.flatnonzero(rows)])
    strokes = crops.row // ROWS
    spells = [np.flatnonzero(planted & (strokes == k)) for k in np.unique(strokes[planted])]
    seen = [s for s in spells if _spread(readings.hip_yaw[s, 1]) < HIDDEN_DEG]
    for name, found in (("spells", spells), ("in view", seen)):
        for view in (*VIEWS, "all"):
            chosen = [s for s in found if view in ("all", readings.view[s[0]])]
            _print_line(f"{name}, {view}", readings, chosen)


def _print_line(name: str, readings: Readings, groups: list[np.ndarray]) -> None:
    """Print errors of means over groups of rows, and how often 95 % intervals hold."""
    if not groups:
        return
    line = f"{name:<20}{len(groups):5d}"
    for measure, (errors_of, factor) in _MEASURES.items():
        errors, sizes = errors_of(readings), getattr(readings, measure)[:, 1]
        means = np.array([errors[rows].mean() for rows in groups])
        spreads = np.array([_spread(sizes[rows]) for rows in groups])
        hold = (np.abs(means) <= 1.96 * spreads).mean()
        line += (
            f" | {measure}{factor * np.abs(means).mean():6.2f}"
            f" (median{factor * np.median(np.abs(means)):5.2f}) holds{100 * hold:6.1f} %"
        )
    print(line)


def _spread(sizes: np.ndarray) -> float:
    """Quadratic mean of standard errors."""
    return float(np.sqrt((sizes**2).mean()))
