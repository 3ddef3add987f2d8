"""Where the players stood, on a plan of the court, as SVG."""

import numpy as np
from markupsafe import Markup

from stance.court.dimensions import COURT_LENGTH, COURT_WIDTH, court_lines
from stance.reports.pages import chart
from stance.results.model import PlayerResult
from stance.runtime.language import gettext as _
from stance.types import FloatArray

# Pixels a metre, and those left, right and above of the court.
_SCALE, _MARGIN, _TOP = 46.0, 14.0, 30.0


def court_map(player: PlayerResult) -> Markup:
    """Where the player waited on the half court, to scale, net at the top.

    Parameters
    ----------
    player
        the player; bases are drawn in the court frame of the player's own half.
    """
    width = COURT_WIDTH * _SCALE + 2 * _MARGIN
    height = COURT_LENGTH / 2 * _SCALE + _TOP + 12
    known = [
        (number, position)
        for number, position in enumerate(player.ready_positions, start=1)
        if np.isfinite(position.base_m).all()
    ]
    places = np.array([_on_paper(*position.base_m) for _, position in known]).reshape(-1, 2)
    labels = spread_labels(places, 22.0, (12.0, _TOP + 12, width - 12, height - 12))
    return chart(
        "court_map.svg",
        width=width,
        height=height,
        label=_("{player}: where on the half court").format(player=player.title),
        floor=_rectangle((-COURT_WIDTH / 2, COURT_WIDTH / 2), (-COURT_LENGTH / 2, 0.0)),
        lines=[
            _rectangle(line.x, (line.y[0], min(line.y[1], 0.0)))
            for line in court_lines()
            if line.y[0] < 0
        ],
        marks=[
            {
                "number": number,
                "class": position.stance_class,
                "x": place[0],
                "y": place[1],
                "label_x": label[0],
                "label_y": label[1],
            }
            for (number, position), place, label in zip(known, places, labels, strict=True)
        ],
    )


def spread_labels(
    places: FloatArray, gap: float, bounds: tuple[float, float, float, float]
) -> FloatArray:
    """Places pushed apart until none is nearer to another than a gap, or nearly so.

    Parameters
    ----------
    places
        (places, 2)
    gap
        least distance wanted.
    bounds
        left, top, right and bottom that they stay within.
    """
    spread = np.array([[x, y] for x, y in places], float).reshape(-1, 2)
    # A first step each in a direction of its own parts places that coincide.
    turns = np.arange(len(spread)) * 2.4
    spread += 0.5 * np.column_stack([np.cos(turns), np.sin(turns)])
    for _round in range(200):
        apart = spread[:, None] - spread[None]
        distance = np.hypot(apart[..., 0], apart[..., 1])
        np.fill_diagonal(distance, np.inf)
        lacking = np.clip(gap - distance, 0, None)
        if lacking.max(initial=0.0) < 0.05:
            break
        push = apart * (lacking / np.maximum(distance, 1e-6))[..., None]
        spread += 0.4 * push.sum(axis=1)
        spread = np.clip(spread, bounds[:2], bounds[2:])
    return spread


def _on_paper(x: float, y: float) -> tuple[float, float]:
    """A place of the court frame, metres, in the drawing's pixels."""
    return _MARGIN + (x + COURT_WIDTH / 2) * _SCALE, _TOP - y * _SCALE


def _rectangle(x: tuple[float, float], y: tuple[float, float]) -> dict[str, float]:
    left, top = _on_paper(x[0], y[1])
    width, height = (x[1] - x[0]) * _SCALE, (y[1] - y[0]) * _SCALE
    return {"x": left, "y": top, "width": width, "height": height}
