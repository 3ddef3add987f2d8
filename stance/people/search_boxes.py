"""Squares in which to look for players who may be anywhere on a half court."""

from collections.abc import Iterable, Sequence

import numpy as np

from stance.court.camera import Camera, project
from stance.court.dimensions import COURT_LENGTH, COURT_WIDTH
from stance.people.landmarks import Box
from stance.people.settings import SETTINGS
from stance.types import FloatArray


def search_boxes(camera: Camera | None, image_size: tuple[int, int]) -> tuple[Box, ...]:
    """Return the squares in which to look for a player.

    Parameters
    ----------
    camera
        Camera or None The calibrated camera in the frame of the half to search; without it the
        picture is covered by squares of three sizes.
    image_size
        (width, height) pixels
    """
    if camera is None:
        return _distinct(_boxes_over_picture(image_size))
    return _distinct(_boxes_over_half(camera, image_size))


def search_near(boxes: Sequence[Box], place: FloatArray, count: int) -> tuple[Box, ...]:
    """Return the `count` squares whose middles are nearest to a pixel (2,)."""
    return tuple(
        sorted(
            boxes,
            key=lambda b: float(np.hypot(b.x + b.side / 2 - place[0], b.y + b.side / 2 - place[1])),
        )[:count]
    )


def _boxes_over_picture(image_size: tuple[int, int]) -> list[Box]:
    """Squares of three sizes all over a picture (width, height)."""
    settings = SETTINGS.search_boxes
    width, height = image_size
    large, middle, small = settings.picture_sides
    boxes = []
    for side in (
        large * max(width, height),
        middle * min(width, height),
        small * min(width, height),
    ):
        step = settings.picture_step_sides * side
        for y in np.arange(-0.1 * side, max(height - 0.6 * side, 1.0), step):
            for x in np.arange(-0.1 * side, max(width - 0.6 * side, 1.0), step):
                boxes.append(Box(float(x), float(y), float(side)))
    return boxes


def _boxes_over_half(camera: Camera, image_size: tuple[int, int]) -> list[Box]:
    """Squares around people who would stand on the half, where their middle is in the picture."""
    settings = SETTINGS.search_boxes
    width, height = image_size
    back, net, side_line = settings.inset_m
    across = COURT_WIDTH / 2 - side_line
    boxes = []
    for y in np.arange(-COURT_LENGTH / 2 + back, -net, settings.step_m):
        for x in np.linspace(-across, across, settings.columns):
            ends = project(camera, np.array([[x, y, 0.0], [x, y, settings.person_height_m]]))
            middle = ends.mean(axis=0)
            if not (0.0 <= middle[0] <= width and 0.0 <= middle[1] <= height):
                continue
            side = settings.person_factor * float(np.linalg.norm(ends[0] - ends[1]))
            boxes.append(Box(float(middle[0]) - side / 2, float(middle[1]) - side / 2, side))
    return boxes


def _distinct(boxes: Iterable[Box]) -> tuple[Box, ...]:
    """Leave out squares that show nearly the same as an earlier one."""
    kept: list[Box] = []
    for box in boxes:
        if all(_overlap(box, other) < SETTINGS.search_boxes.most_overlap for other in kept):
            kept.append(box)
    return tuple(kept)


def _overlap(first: Box, second: Box) -> float:
    """Intersection over union of two squares."""
    width = min(first.x + first.side, second.x + second.side) - max(first.x, second.x)
    height = min(first.y + first.side, second.y + second.side) - max(first.y, second.y)
    shared = max(width, 0.0) * max(height, 0.0)
    return shared / (first.side**2 + second.side**2 - shared)
