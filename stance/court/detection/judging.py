"""How well a reading explains the picture: painted lines, net, and what contradicts it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stance.court.camera import Camera, floor_point
from stance.court.detection.families import MARKS, off_lines, stripe_marks
from stance.court.detection.fitting import EDGE_LINES, Edges
from stance.court.detection.net_tape import behind_tape, net_tape
from stance.court.detection.stripes import Stripes
from stance.court.dimensions import court_lines


@dataclass(frozen=True)
class Judged:
    """A fitted reading and how well it explains the picture.

    `explained`, `missing` and `stray` are lengths in the picture's long sides: of line edges
    found, of those not found, and of stripes on the court that are no line. `error_px` is the
    root mean square distance of edges from their place; `net` the share of the tape that is
    where it belongs, None where none is in the picture; `net_length` of the tape in long sides;
    `lines` how many lines along the court and across it are seen; `edges` what was seen of
    them.
    """

    camera: Camera
    explained: float
    missing: float
    stray: float
    error_px: float
    net: float | None
    net_length: float
    lines: tuple[int, int]
    edges: Edges

    @property
    def score(self) -> float:
        """What is compared between readings."""
        net = 0.0 if self.net is None else self.net_length * (1.3 * self.net - 0.3)
        return self.explained - 0.8 * self.missing - 0.4 * self.stray + 0.5 * net


def judge(camera: Camera, edges: Edges, stripes: Stripes, light: NDArray[np.float32]) -> Judged:
    long_side = max(camera.image_size)
    unit = long_side / 1280
    found = np.isfinite(edges.offset) & (np.abs(edges.offset) < 1.5 * unit)
    explained = float(edges.length[found].sum()) / long_side
    missing = float(edges.length[~found].sum()) / long_side
    weight = np.repeat(stripes.length / MARKS, MARKS) / long_side
    places = floor_point(camera, stripe_marks(stripes).reshape(-1, 2))
    off = off_lines(places[:, :2], 0.08, 0.12) & ~behind_tape(camera, places)
    stray = float(weight[off].sum())
    net, net_length = net_tape(camera, light)
    lines = EDGE_LINES[edges.sample]
    counts = [0, 0]
    for number in np.unique(lines):
        own = lines == number
        if found[own].sum() >= 6 and found[own].mean() > 0.4:
            counts[_LINE_AXIS[number]] += 1
    error = _error(edges, unit)
    return Judged(
        camera, explained, missing, stray, error, net, net_length, (counts[0], counts[1]), edges
    )


def _error(edges: Edges, unit: float) -> float:
    """Root mean square distance of edges from their place, pixels, without the strays."""
    offset = edges.offset[np.abs(edges.offset) < 1.5 * unit]
    return float(np.sqrt(np.mean(offset**2))) if len(offset) else float("inf")


# 0 for lines along the court, 1 for lines across it.
_LINE_AXIS = [int(line.x[1] - line.x[0] > 1) for line in court_lines()]
