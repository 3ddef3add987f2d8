"""Where in a picture to look for players."""

from collections.abc import Iterable, Sequence

import numpy as np

from stance.court.camera import Camera, project
from stance.court.dimensions import COURT_LENGTH, COURT_WIDTH
from stance.people.landmarks import Box
from stance.types import FloatArray


def closer_box(one: Box, two: Box, share: float) -> bool:
    """Whether the middles of two squares are nearer than a share of the larger's side."""
    across = abs(one.x + one.side / 2 - two.x - two.side / 2)
    down = abs(one.y + one.side / 2 - two.y - two.side / 2)
    return max(across, down) < share * max(one.side, two.side)


# Squares for the first search, metres: steps between the places tried and the height of a
# grown-up, children included.
_SEARCH_STEP = 0.9

_SEARCH_HEIGHT = 1.7

_SEARCH_FACTOR = 1.7


def _overlap(one: Box, two: Box) -> float:
    """Intersection over union of two squares."""
    width = min(one.x + one.side, two.x + two.side) - max(one.x, two.x)
    height = min(one.y + one.side, two.y + two.side) - max(one.y, two.y)
    shared = max(width, 0.0) * max(height, 0.0)
    return shared / (one.side**2 + two.side**2 - shared)


def _distinct(boxes: Iterable[Box]) -> tuple[Box, ...]:
    """Leave out squares that show nearly the same as an earlier one."""
    kept: list[Box] = []
    for box in boxes:
        if all(_overlap(box, other) < 0.5 for other in kept):
            kept.append(box)
    return tuple(kept)


def search_boxes(camera: Camera | None, image_size: tuple[int, int]) -> tuple[Box, ...]:
    """Return the squares in which to look for a player.

    Parameters
    ----------
    camera : Camera or None
        The calibrated camera in the frame of the half to search; without it the picture is
        covered by squares of three sizes.
    image_size : (width, height) pixels
    """
    width, height = image_size
    if camera is None:
        boxes = []
        for side in (max(width, height), 0.75 * min(width, height), 0.45 * min(width, height)):
            step = 0.4 * side
            for y in np.arange(-0.1 * side, max(height - 0.6 * side, 1.0), step):
                for x in np.arange(-0.1 * side, max(width - 0.6 * side, 1.0), step):
                    boxes.append(Box(float(x), float(y), float(side)))
        return _distinct(boxes)
    boxes = []
    for y in np.arange(-COURT_LENGTH / 2 + 0.2, -0.5, _SEARCH_STEP):
        for x in np.linspace(-COURT_WIDTH / 2 + 0.3, COURT_WIDTH / 2 - 0.3, 7):
            ends = project(camera, np.array([[x, y, 0.0], [x, y, _SEARCH_HEIGHT]]))
            middle = ends.mean(axis=0)
            if not (0.0 <= middle[0] <= width and 0.0 <= middle[1] <= height):
                continue
            side = _SEARCH_FACTOR * float(np.linalg.norm(ends[0] - ends[1]))
            boxes.append(Box(float(middle[0]) - side / 2, float(middle[1]) - side / 2, side))
    return _distinct(boxes)


def search_near(boxes: Sequence[Box], place: FloatArray, count: int) -> tuple[Box, ...]:
    """Return the `count` squares whose middles are nearest to a pixel (2,)."""
    return tuple(
        sorted(
            boxes,
            key=lambda b: float(np.hypot(b.x + b.side / 2 - place[0], b.y + b.side / 2 - place[1])),
        )[:count]
    )


def widened(box: Box, factor: float) -> Box:
    """Return the square around the same middle, `factor` times as large."""
    more = (factor - 1.0) * box.side
    return Box(box.x - more / 2, box.y - more / 2, box.side + more)
