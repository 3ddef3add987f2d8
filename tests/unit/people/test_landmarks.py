"""Poses, and squares around them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stance.court.camera import project
from stance.people.landmarks import (
    LEFT_HIP,
    LEFT_WRIST,
    MIRRORED,
    RIGHT_HIP,
    RIGHT_WRIST,
    Box,
    box_around,
    side_indices,
)
from tests.unit.figures import behind_camera, figure
from tests.unit.people.made_people import pose_at


@given(st.floats(0.5, 3.0))
def test_the_box_scales_with_the_picture(scale: float) -> None:
    pixels = project(behind_camera(), figure((0.5, -4.0)))
    one, other = box_around(pixels), box_around(pixels * scale)
    assert other.side == pytest.approx(scale * one.side)
    assert other.x == pytest.approx(scale * one.x)
    assert one.side == pytest.approx(1.5 * np.ptp(pixels[:, 1]))


@given(st.floats(0.5, 3.0))
def test_a_widened_square_has_the_same_middle(factor: float) -> None:
    box = Box(10.0, 20.0, 50.0)
    wider = box.widened(factor)
    assert wider.side == pytest.approx(50.0 * factor)
    assert wider.x + wider.side / 2 == pytest.approx(35.0)
    assert wider.y + wider.side / 2 == pytest.approx(45.0)


@pytest.mark.parametrize(("x", "near"), [(0.0, True), (49.0, True), (51.0, False)])
def test_squares_are_near_by_the_larger_ones_side_whichever_is_asked(x: float, near: bool) -> None:
    large, small = Box(0.0, 0.0, 100.0), Box(x + 45.0, 45.0, 10.0)
    assert large.is_near(small, 0.5) == small.is_near(large, 0.5) == near


def test_a_pose_mirrored_twice_is_as_before_and_once_has_left_and_right_changed() -> None:
    pose = pose_at(0.7)
    mirrored = pose.mirrored(1280.0)
    assert mirrored.pixels[LEFT_WRIST] == pytest.approx(
        (1280.0, 0.0) + (-1.0, 1.0) * pose.pixels[RIGHT_WRIST]
    )
    back = mirrored.mirrored(1280.0)
    np.testing.assert_allclose(back.pixels, pose.pixels)
    np.testing.assert_allclose(back.world, pose.world)


def test_the_racket_side_comes_first() -> None:
    assert side_indices("right", 1, 2) == (2, 1)
    assert side_indices("left", 1, 2) == (1, 2)


def test_mirroring_landmarks_twice_changes_nothing() -> None:
    np.testing.assert_array_equal(MIRRORED[MIRRORED], np.arange(33))
    assert MIRRORED[LEFT_HIP] == RIGHT_HIP
