"""Vanishing points and axes of cameras that are known."""

import numpy as np
import pytest

from stance.court.detection.axes import find_court_axes, find_vanishing_points, locate_on_axes
from tests.unit.court.detection.pictures import (
    BEHIND,
    CORNER,
    FAR_STAND,
    FRONT,
    SIDE,
    SIZE,
    camera_at,
    pixels_of,
    stripes_of,
)

CAMERAS = [BEHIND, CORNER, SIDE, FRONT, FAR_STAND]
PLACES = np.array([[x, y] for x in (-2.0, 0.0, 1.5) for y in (-5.5, -4.0, -2.5)])


def true_rays(camera):
    """Where lines along x and along y point, as rays for a focal length of the long side."""
    rays = []
    for axis in (0, 1):
        x, y, z = camera.rotation[:, axis]
        ray = np.array([camera.matrix[0, 0] * x, camera.matrix[0, 0] * y, max(SIZE) * z])
        rays.append(ray / np.linalg.norm(ray))
    return rays


@pytest.mark.parametrize("camera", CAMERAS)
def test_the_courts_two_directions_are_among_the_vanishing_points(camera):
    found = find_vanishing_points(stripes_of(camera), SIZE)
    np.testing.assert_allclose(np.linalg.norm(found, axis=1), 1.0)
    for ray in true_rays(camera):
        angles = np.degrees(np.arccos(np.minimum(np.abs(found @ ray), 1.0)))
        assert angles.min() < 0.1


def test_a_single_stripe_points_nowhere():
    assert find_vanishing_points(stripes_of(BEHIND).select(np.array([0])), SIZE).shape == (0, 3)


@pytest.mark.parametrize("camera", CAMERAS)
def test_places_on_the_axes_are_the_courts_up_to_scale_and_shift(camera):
    axes = find_court_axes(*true_rays(camera), SIZE)
    places = locate_on_axes(axes, pixels_of(camera, PLACES))
    scales = []
    for axis in (0, 1):
        scale, shift = np.polyfit(PLACES[:, axis], places[:, axis], 1)
        np.testing.assert_allclose(places[:, axis], scale * PLACES[:, axis] + shift, atol=1e-9)
        scales.append(scale)
    assert axes.ratio[0] < abs(scales[0] / scales[1]) < axes.ratio[1]
    # Right-handed, as x and y of the court are.
    assert scales[0] * scales[1] > 0


def test_above_the_horizon_there_is_no_place():
    axes = find_court_axes(*true_rays(BEHIND), SIZE)
    assert np.isnan(locate_on_axes(axes, np.array([[640.0, 5.0]]))).all()
    assert np.isfinite(locate_on_axes(axes, np.array([[640.0, 700.0]]))).all()


def test_a_floor_that_stands_upright_has_no_axes():
    across, along = true_rays(BEHIND)
    # The net's plane instead of the floor: x and z.
    x, y, z = BEHIND.rotation[:, 2]
    up = np.array([BEHIND.matrix[0, 0] * x, BEHIND.matrix[0, 0] * y, max(SIZE) * z])
    assert find_court_axes(along, up / np.linalg.norm(up), SIZE) is None


def test_directions_that_are_at_no_right_angle_have_no_axes():
    camera = camera_at((4.6, -10.0, 2.2), (-0.5, -3.0, 0.0))
    across, along = true_rays(camera)
    assert find_court_axes(along + 0.15 * across, along, SIZE) is None
