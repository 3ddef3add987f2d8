"""Where something moves on the half court."""

import cv2
import numpy as np
import pytest

from stance.court.camera import project
from stance.people.landmarks import Box, box_around
from stance.people.motion_search import MotionSearch
from tests.unit.figures import behind_camera
from tests.unit.people.made_people import Picture

CAMERA = behind_camera(height=3.0, back=14.0)


def empty_hall(index: int) -> Picture:
    """A grey picture."""
    return Picture(np.full((720, 1280, 3), 90, np.uint8), index, 0.3 * index)


def column(base: tuple[float, float], height_m: float) -> np.ndarray:
    """Corners (4, 2) pixels of something upright on the floor, half a metre wide."""
    x, y = base
    return project(
        CAMERA,
        [
            (x - 0.25, y, 0.0),
            (x + 0.25, y, 0.0),
            (x + 0.25, y, height_m),
            (x - 0.25, y, height_m),
        ],
    )


def proposals(base: tuple[float, float], height_m: float, known: list[Box]) -> list[Box]:
    """What is proposed when something bright comes into an empty hall."""
    search = MotionSearch(CAMERA, CAMERA.image_size)
    for index in range(12):
        search.watch(empty_hall(index))
    picture = empty_hall(12)
    corners = np.round(column(base, height_m)).astype(np.int32)
    cv2.fillConvexPoly(picture.image, corners, (220, 220, 220))
    search.watch(picture)
    return search.proposals(known)


def test_nothing_is_proposed_where_nothing_moves() -> None:
    search = MotionSearch(CAMERA, CAMERA.image_size)
    assert search.proposals([]) == []
    for index in range(12):
        search.watch(empty_hall(index))
    assert search.proposals([]) == []


def test_who_comes_onto_the_half_is_proposed_in_the_square_around_them() -> None:
    (found,) = proposals((1.0, -3.0), 1.7, [])
    wanted = box_around(column((1.0, -3.0), 1.7))
    assert found.is_near(wanted, 0.1)
    assert found.side == pytest.approx(wanted.side, rel=0.15)


def test_who_is_known_is_not_proposed() -> None:
    known = box_around(column((1.0, -3.0), 1.7))
    assert proposals((1.0, -3.0), 1.7, [known]) == []
    assert len(proposals((1.0, -3.0), 1.7, [box_around(column((-1.0, -3.0), 1.7))])) == 1


@pytest.mark.parametrize(
    ("base", "height_m"),
    [
        ((4.5, -3.0), 1.7),  # beside the court
        ((1.0, 3.0), 1.7),  # beyond the net
        ((1.0, -3.0), 0.4),  # a bag
    ],
)
def test_what_is_not_on_the_half_or_not_as_high_as_a_person_is_not_proposed(
    base: tuple[float, float], height_m: float
) -> None:
    assert proposals(base, height_m, []) == []
