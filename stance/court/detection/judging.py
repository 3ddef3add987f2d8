"""How well a reading explains the picture: painted lines, net, and what contradicts it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stance.court.camera import Camera, floor_point
from stance.court.detection.edges import Edges
from stance.court.detection.fitting import FittedCamera
from stance.court.detection.line_samples import LINE_EDGES, find_places_without_line
from stance.court.detection.net_tape import NetTape, find_net_tape, is_behind_tape
from stance.court.detection.stripes import SAMPLES_PER_STRIPE, Stripes, sample_stripes
from stance.court.dimensions import court_lines


@dataclass(frozen=True, eq=False)
class JudgedReading:
    """A fitted reading and how well it explains the picture.

    Attributes
    ----------
    camera
        fitted to the edges.
    edges
        what was seen of the lines' edges.
    explained, missing, stray
        lengths in the picture's long sides, of line edges found, of those not found, and of stripes
        on the court that are no line.
    error_px
        root mean square distance of edges from their place, pixels.
    tape
        what is seen of the net's tape.
    lines_along, lines_across
        how many lines along the court and across it are seen.
    """

    camera: Camera
    edges: Edges
    explained: float
    missing: float
    stray: float
    error_px: float
    tape: NetTape
    lines_along: int
    lines_across: int

    @property
    def score(self) -> float:
        """What is compared between readings."""
        share, length = self.tape.share, self.tape.length
        net = 0.0 if share is None else length * (1.3 * share - 0.3)
        return self.explained - 0.8 * self.missing - 0.4 * self.stray + 0.5 * net


def judge(fitted: FittedCamera, stripes: Stripes, light: NDArray[np.float32]) -> JudgedReading:
    """Measure what a fitted reading explains of the picture.

    Parameters
    ----------
    stripes
        those of the reading's colour.
    light
        (height, width) CIE L*, 0 to 100.
    """
    camera, edges = fitted.camera, fitted.edges
    long_side = max(camera.image_size)
    unit = long_side / 1280
    found = np.isfinite(edges.offset) & (np.abs(edges.offset) < 1.5 * unit)
    weight = np.repeat(stripes.length / SAMPLES_PER_STRIPE, SAMPLES_PER_STRIPE) / long_side
    places = floor_point(camera, sample_stripes(stripes).reshape(-1, 2))
    stray = find_places_without_line(places[:, :2], 0.08, 0.12) & ~is_behind_tape(camera, places)
    return JudgedReading(
        camera,
        edges,
        explained=float(edges.length[found].sum()) / long_side,
        missing=float(edges.length[~found].sum()) / long_side,
        stray=float(weight[stray].sum()),
        error_px=_measure_error(edges, unit),
        tape=find_net_tape(camera, light),
        lines_along=_count_lines(edges, found, _X_OF_LINES),
        lines_across=_count_lines(edges, found, _Y_OF_LINES),
    )


def _count_lines(edges: Edges, found: NDArray[np.bool_], places: dict[int, float]) -> int:
    """Of lines at places, how many are seen; the halves of the centre line are one."""
    lines = LINE_EDGES.lines[edges.sample]
    seen = set()
    for number, place in places.items():
        own = lines == number
        if found[own].sum() >= 6 and found[own].mean() > 0.4:
            seen.add(place)
    return len(seen)


def _measure_error(edges: Edges, unit: float) -> float:
    """Root mean square distance of edges from their place, pixels, without the strays."""
    offset = edges.offset[np.abs(edges.offset) < 1.5 * unit]
    return float(np.sqrt(np.mean(offset**2))) if len(offset) else float("inf")


# Where lines along the court and across it are, metres, by their index in `court_lines()`.
_X_OF_LINES = {
    number: line.x[0] for number, line in enumerate(court_lines()) if line.x[1] - line.x[0] < 1
}

_Y_OF_LINES = {
    number: line.y[0] for number, line in enumerate(court_lines()) if line.y[1] - line.y[0] < 1
}
