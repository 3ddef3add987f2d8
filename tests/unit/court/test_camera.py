"""The camera against OpenCV, SciPy's rotations and finite differences."""

import cv2
import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from stance.court.camera import (
    Camera,
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
from tests.unit.court.cameras import SIZE, camera_at

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
    """The camera after a step in its seven numbers."""
    matrix = camera.matrix.copy()
    matrix[0, 0] *= np.exp(step[0])
    matrix[1, 1] *= np.exp(step[0])
    rotation = Rotation.from_rotvec(step[1:4]).as_matrix() @ camera.rotation
    return Camera(matrix, rotation, camera.translation + step[4:], camera.image_size)


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
    for number in range(7):
        step = 1e-5 * np.eye(7)[number]
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


BENT = Camera(REAR_CORNER.matrix, REAR_CORNER.rotation, REAR_CORNER.translation, SIZE, None, -0.05)


def test_a_bent_lens_projects_as_opencv_says():
    points = np.random.default_rng(1).uniform([-2, -6, 0], [2, 3, 1], (50, 3))
    vector = cv2.Rodrigues(BENT.rotation)[0]
    lens = np.array([BENT.distortion, 0, 0, 0])
    expected = cv2.projectPoints(points, vector, BENT.translation, BENT.matrix, lens)[0][:, 0]
    np.testing.assert_allclose(project(BENT, points), expected, atol=1e-8)


@given(floor_places, st.floats(-0.08, 0.08))
def test_a_bent_lens_is_undone_on_the_way_to_the_floor(place, distortion):
    bent = Camera(BENT.matrix, BENT.rotation, BENT.translation, SIZE, None, distortion)
    point = np.array([*place, 0.0])
    assert floor_point(bent, project(bent, point)) == pytest.approx(point, abs=1e-5)


def test_derivatives_through_a_bent_lens_agree_with_finite_differences():
    point = np.array([1.5, -3.0, 0.0])
    analytic = projection_parameter_jacobian(BENT, point)
    ends = []
    for step in 1e-6 * np.eye(7):
        pair = []
        for signed in (step, -step):
            changed = moved(BENT, signed)
            bent = Camera(
                changed.matrix, changed.rotation, changed.translation, SIZE, None, BENT.distortion
            )
            pair.append(project(bent, point))
        ends.append((pair[0] - pair[1]) / 2e-6)
    np.testing.assert_allclose(analytic, np.transpose(ends), rtol=1e-4, atol=1e-3)
