"""The camera against OpenCV, SciPy's rotations and finite differences."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from stance.court.camera import (
    camera_centre,
    depth,
    floor_jacobian,
    floor_parameter_jacobian,
    floor_point,
    project,
    projection_parameter_jacobian,
    turned_180,
    viewing_ray,
)
from tests.unit.court.cameras import camera_at

REAR_CORNER = camera_at([4.2, -10.0, 1.6], 25.0, 6.0, 2.0)

cameras = st.builds(
    camera_at,
    st.tuples(st.floats(-6, 6), st.floats(-13, -8), st.floats(0.8, 4.0)),
    st.floats(-30, 30),
    st.floats(0, 25),
    st.floats(-5, 5),
    st.floats(700, 2000),
)
floor_places = st.tuples(st.floats(-3, 3), st.floats(-6.5, -1))


def moved(camera, step):
    """The camera after a step in its eight numbers."""
    matrix = camera.matrix.copy()
    matrix[0, 0] *= np.exp(step[0])
    matrix[1, 1] *= np.exp(step[0])
    rotation = Rotation.from_rotvec(step[1:4]).as_matrix() @ camera.rotation
    return replace(
        camera,
        matrix=matrix,
        rotation=rotation,
        translation=camera.translation + step[4:7],
        distortion=camera.distortion + step[7],
    )


def test_the_camera_of_these_tests_looks_to_the_net_and_stands_upright():
    level = camera_at([0, -10, 1.5], 0.0, 0.0)
    assert camera_centre(level) == pytest.approx([0, -10, 1.5])
    assert project(level, [0, 0, 1.5]) == pytest.approx([640, 360])
    right, up = project(level, [[1, 0, 1.5], [0, 0, 2.5]])
    assert right[0] > 640 and up[1] < 360
    assert depth(level, [2, 0, 0]) == pytest.approx(10)


def test_projection_agrees_with_opencv():
    points = np.random.default_rng(0).uniform([-3, -6, 0], [3, 6, 2], (50, 3))
    vector = cv2.Rodrigues(REAR_CORNER.rotation)[0]
    expected = cv2.projectPoints(points, vector, REAR_CORNER.translation, REAR_CORNER.matrix, None)
    np.testing.assert_allclose(project(REAR_CORNER, points), expected[0][:, 0], atol=1e-8)


@given(cameras, floor_places, st.floats(0, 0.5))
def test_a_point_comes_back_from_its_pixel(camera, place, height):
    point = np.append(place, height)
    # A camera turned away from a corner near it has that corner behind it.
    assume(depth(camera, point) > 0.1)
    pixel = project(camera, point)
    np.testing.assert_allclose(floor_point(camera, pixel, height), point, atol=1e-6)
    towards = point - camera_centre(camera)
    ray = viewing_ray(camera, pixel)
    np.testing.assert_allclose(ray, towards / np.linalg.norm(towards), atol=1e-9)


def test_pixels_above_the_horizon_have_no_floor_point():
    pixels = np.array([[640.0, 0.0], [640.0, 600.0]])
    points = floor_point(REAR_CORNER, pixels)
    assert np.all(np.isnan(points[0])) and np.all(np.isfinite(points[1]))
    assert np.all(np.isnan(floor_jacobian(REAR_CORNER, pixels)[0]))
    assert np.all(np.isnan(floor_parameter_jacobian(REAR_CORNER, pixels)[0]))


def test_points_behind_the_camera_are_not_in_the_picture():
    assert np.all(np.isnan(project(REAR_CORNER, [4.2, -12.0, 0.0])))
    assert depth(REAR_CORNER, [4.2, -12.0, 0.0]) < 0


@pytest.mark.parametrize("height", [0.0, 0.1])
def test_floor_jacobian_agrees_with_finite_differences(height):
    pixels = np.array([[300.0, 500.0], [900.0, 650.0]])
    jacobian = floor_jacobian(REAR_CORNER, pixels, height)
    for axis in (0, 1):
        step = 1e-3 * np.eye(2)[axis]
        forward = floor_point(REAR_CORNER, pixels + step, height)
        back = floor_point(REAR_CORNER, pixels - step, height)
        expected = (forward - back)[:, :2] / 2e-3
        np.testing.assert_allclose(jacobian[:, :, axis], expected, rtol=1e-5, atol=1e-9)


def test_parameter_jacobians_agree_with_finite_differences():
    pixels = np.array([[300.0, 500.0], [900.0, 650.0]])
    points = floor_point(REAR_CORNER, pixels, 0.05)
    of_floor = floor_parameter_jacobian(REAR_CORNER, pixels, 0.05)
    of_picture = projection_parameter_jacobian(REAR_CORNER, points)
    for number in range(8):
        step = 1e-5 * np.eye(8)[number]
        ahead, behind = moved(REAR_CORNER, step), moved(REAR_CORNER, -step)
        floor = floor_point(ahead, pixels, 0.05) - floor_point(behind, pixels, 0.05)
        np.testing.assert_allclose(of_floor[..., number], floor[:, :2] / 2e-5, rtol=1e-5, atol=1e-7)
        picture = project(ahead, points) - project(behind, points)
        np.testing.assert_allclose(of_picture[..., number], picture / 2e-5, rtol=1e-5, atol=1e-4)


@given(cameras, st.tuples(st.floats(-3, 3), st.floats(-6, 6), st.floats(0, 2)))
def test_the_far_halfs_camera_sees_the_turned_court(camera, point):
    turned = np.array(point) * [-1, -1, 1]
    far = turned_180(camera)
    np.testing.assert_allclose(project(far, turned), project(camera, point), atol=1e-6)
    np.testing.assert_allclose(camera_centre(far), camera_centre(camera) * [-1, -1, 1], atol=1e-9)


def test_the_far_halfs_camera_keeps_its_covariance():
    pixels = np.array([600.0, 600.0])
    near = floor_parameter_jacobian(REAR_CORNER, pixels)
    far = floor_parameter_jacobian(turned_180(REAR_CORNER), pixels)
    np.testing.assert_allclose(far, -near, atol=1e-9)


BENT = replace(REAR_CORNER, distortion=-0.3)
points_in_front = st.tuples(st.floats(-2, 2), st.floats(-6, 3), st.floats(0, 1))


@given(points_in_front)
def test_a_quarter_is_a_stereographic_fisheye(point):
    fisheye = replace(REAR_CORNER, distortion=-0.25)
    seen = fisheye.rotation @ np.array(point) + fisheye.translation
    off_middle = np.arctan2(np.hypot(*seen[:2]), seen[2])
    shown = project(fisheye, point) - fisheye.matrix[:2, 2]
    expected = fisheye.matrix[0, 0] * 2 * np.tan(off_middle / 2)
    assert np.hypot(*shown) == pytest.approx(expected, abs=1e-8)
    assert shown @ seen[:2] == pytest.approx(np.hypot(*shown) * np.hypot(*seen[:2]), rel=1e-9)


def test_a_hardly_bent_lens_projects_as_opencv_says():
    points = np.random.default_rng(1).uniform([-2, -6, 0], [2, 3, 1], (50, 3))
    vector = cv2.Rodrigues(REAR_CORNER.rotation)[0]
    lens = np.array([-0.01, 0, 0, 0])
    expected = cv2.projectPoints(points, vector, REAR_CORNER.translation, REAR_CORNER.matrix, lens)[
        0
    ][:, 0]
    found = project(replace(REAR_CORNER, distortion=-0.01), points)
    straight = project(REAR_CORNER, points)
    # Both begin with the same term; the next one is 2 * 0.01^2 of the radius to the fifth.
    assert np.abs(found - expected).max() < 0.05 < 0.1 * np.abs(straight - expected).max()


@given(points_in_front, st.floats(-0.5, 0.15))
def test_a_bent_lens_is_undone_on_the_way_to_the_floor(point, distortion):
    bent = replace(BENT, distortion=distortion)
    found = floor_point(bent, project(bent, point), point[2])
    assert found == pytest.approx(np.array(point), abs=1e-6)


@given(st.floats(0.01, 0.2), st.floats(0.1, 5.0))
def test_a_lens_that_draws_out_never_folds_the_picture_back(distortion, step):
    bent = replace(REAR_CORNER, distortion=distortion)
    directions = np.array([[0.0, 0.0, 1.0], [step, 0.0, 1.0], [9.0, 0.0, 1.0]])
    middle, near, far = project(bent, camera_centre(bent) + directions @ bent.rotation)[:, 0]
    assert middle < near < far


@pytest.mark.parametrize("distortion", [-0.3, 0.1])
def test_derivatives_through_a_bent_lens_agree_with_finite_differences(distortion):
    bent = replace(BENT, distortion=distortion)
    points = np.array([[1.5, -3.0, 0.0], [-2.5, -5.5, 0.4]])
    ends = [
        (project(moved(bent, step), points) - project(moved(bent, -step), points)) / 2e-6
        for step in 1e-6 * np.eye(8)
    ]
    found = projection_parameter_jacobian(bent, points)
    np.testing.assert_allclose(found, np.moveaxis(ends, 0, -1), rtol=1e-4, atol=1e-3)
    pixels = project(bent, [[1.5, -3.0, 0.0]])
    for axis in (0, 1):
        step = 1e-3 * np.eye(2)[axis]
        change = (floor_point(bent, pixels + step) - floor_point(bent, pixels - step)) / 2e-3
        expected = floor_jacobian(bent, pixels)[:, :, axis]
        np.testing.assert_allclose(change[:, :2], expected, rtol=1e-5, atol=1e-9)
