"""Points on the court's painted lines and on their edges, and where the court has no line."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stance.court.dimensions import (
    COURT_LENGTH,
    COURT_WIDTH,
    LINE_WIDTH,
    SHORT_SERVICE_DISTANCE,
    court_lines,
)
from stance.types import FloatArray

# x of the middles of the lines along the court, and y of those across it, sorted, metres.
X_OF_LINES_ALONG = np.array(
    sorted({round(sum(line.x) / 2, 4) for line in court_lines() if line.x[1] - line.x[0] < 1})
)

Y_OF_LINES_ACROSS = np.array(
    sorted({round(sum(line.y) / 2, 4) for line in court_lines() if line.y[1] - line.y[0] < 1})
)

# Lines end at the court's edge; the next court's begin farther away than this, metres.
_BEYOND = 0.6


@dataclass(frozen=True, eq=False)
class LineSamples:
    """Points on painted lines.

    Attributes
    ----------
    places
        (n, 2) metres, court frame.
    directions
        (n, 2) unit vectors, along the line for points on its middle, outwards from it for points on
        its edges.
    lines
        (n,) index of the line in `court_lines()`.
    """

    places: FloatArray
    directions: FloatArray
    lines: NDArray[np.intp]


def _sample_middles(step: float = 0.25) -> LineSamples:
    """Points on the middles of the court's lines, a step or less apart, metres."""
    places, directions, numbers = [], [], []
    for number, line in enumerate(court_lines()):
        middle = np.array([sum(line.x) / 2, sum(line.y) / 2])
        extent = np.array([line.x[1] - line.x[0], line.y[1] - line.y[0]])
        axis = int(np.argmax(extent))
        count = int(np.ceil(extent[axis] / step))
        direction = np.eye(2)[axis]
        at = ((np.arange(count) + 0.5) / count - 0.5) * extent[axis]
        places.append(middle + at[:, None] * direction)
        directions.append(np.tile(direction, (count, 1)))
        numbers.append(np.full(count, number))
    return LineSamples(np.concatenate(places), np.concatenate(directions), np.concatenate(numbers))


def _sample_edges(middles: LineSamples) -> LineSamples:
    """Points on both edges of the court's lines, where no line crosses."""
    along = middles.directions
    outwards = np.column_stack([-along[:, 1], along[:, 0]])
    runs_across, runs_along = np.abs(along[:, :1]) > 0.5, np.abs(along[:, 1:]) > 0.5
    place = np.where(runs_across, middles.places[:, :1], middles.places[:, 1:])
    crossings = np.hstack(
        [
            np.where(runs_across, X_OF_LINES_ALONG[None], np.nan),
            np.where(runs_along, Y_OF_LINES_ACROSS[None], np.nan),
        ]
    )
    free = np.nanmin(np.abs(place - crossings), axis=1) >= 0.06
    places, outwards, lines = middles.places[free], outwards[free], middles.lines[free]
    return LineSamples(
        np.concatenate([places + outwards * LINE_WIDTH / 2, places - outwards * LINE_WIDTH / 2]),
        np.concatenate([outwards, -outwards]),
        np.concatenate([lines, lines]),
    )


LINE_MIDDLES = _sample_middles()

LINE_EDGES = _sample_edges(LINE_MIDDLES)


def find_places_without_line(places: FloatArray, near_x: float, near_y: float) -> NDArray[np.bool_]:
    """Whether places on the floor are where the court allows no line.

    That is on the court farther from its lines than `near_x` and `near_y`, between the halves of
    the centre line, and where a line would go on beyond the court's edge.

    Parameters
    ----------
    places
        (..., 2) metres, court frame; NaN counts as elsewhere.
    near_x, near_y
        metres, from lines along and across the court.

    Returns
    -------
    (...) whether a painted line there would contradict the court.
    """
    half = np.array([COURT_WIDTH, COURT_LENGTH]) / 2
    with np.errstate(invalid="ignore"):
        close = (np.abs(places) < half + _BEYOND).all(axis=-1)
    without = np.zeros(close.shape, bool)
    x, y = places[close, 0], places[close, 1]
    on_along = np.abs(x[:, None] - X_OF_LINES_ALONG).min(axis=-1) < near_x
    on_across = np.abs(y[:, None] - Y_OF_LINES_ACROSS).min(axis=-1) < near_y
    inner = (np.abs(x) < half[0] + 0.1) & (np.abs(y) < half[1] + 0.1)
    gap = (np.abs(x) < near_x) & (np.abs(y) < SHORT_SERVICE_DISTANCE - 0.3)
    goes_on = (on_along & (np.abs(y) > half[1] + 0.1)) | (on_across & (np.abs(x) > half[0] + 0.1))
    without[close] = (inner & ~on_along & ~on_across) | gap | goes_on
    return without
