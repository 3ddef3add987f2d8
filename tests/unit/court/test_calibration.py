"""The camera from marked points against OpenCV, closed forms and Monte Carlo."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from stance.court.calibration import calibrate
from stance.court.camera import (
    camera_centre,
    floor_parameter_jacobian,
    floor_point,
    project,
    turned_180,
)
from stance.court.court_file import MarkedCourt
from stance.court.floor_error import floor_direction_error
from stance.court.pose import LENS_POINTS, MARKING_NOISE, straighten
from stance.errors import InputError
from tests.unit.court.cameras import (
    CORNERS,
    NEAR_HALF,
    REAR_CORNER,
    SIX,
    SIZE,
    VIEWS,
    camera_at,
    marked_by,
    on_floor,
)


@pytest.mark.parametrize("view", VIEWS)
def test_calibration_recovers_cameras_that_opencv_projected(view):
    camera = VIEWS[view]
    vector = cv2.Rodrigues(camera.rotation)[0]
    points = on_floor(NEAR_HALF)
    pixels = cv2.projectPoints(points, vector, camera.translation, camera.matrix, None)[0][:, 0]
    found = calibrate(MarkedCourt(SIZE, NEAR_HALF, pixels))
    assert found.source == "marked" and found.error_px < 0.01
    assert found.camera.matrix[0, 0] == pytest.approx(camera.matrix[0, 0], rel=2e-4)
    np.testing.assert_allclose(camera_centre(found.camera), camera_centre(camera), atol=2e-3)
    turn = Rotation.from_matrix(found.camera.rotation @ camera.rotation.T).magnitude()
    assert np.degrees(turn) < 0.01


@pytest.mark.parametrize("view", VIEWS)
def test_pose_agrees_with_opencvs_solver_on_noisy_marks(view):
    marked = marked_by(VIEWS[view], NEAR_HALF, noise=1.0)
    found = calibrate(marked)
    bend = found.camera.distortion / (found.camera.matrix[0, 0] / SIZE[0]) ** 2
    straight = straighten(marked.pixels, bend, SIZE)
    done, vector, translation = cv2.solvePnP(
        on_floor(marked.court_points), straight, found.camera.matrix, None
    )
    assert done
    turn = Rotation.from_matrix(cv2.Rodrigues(vector)[0] @ found.camera.rotation.T).magnitude()
    assert np.degrees(turn) < 0.02
    np.testing.assert_allclose(translation[:, 0], found.camera.translation, atol=0.005)
    assert 0.5 < found.error_px < 2.0


def seen_through_an_action_camera(places, seed=0):
    camera = camera_at([3.4, -8.8, 2.4], 22.0, 12.0, focal=640.0)
    vector = cv2.Rodrigues(camera.rotation)[0]
    lens = np.array([-0.25, 0.07, 0, 0])
    points = on_floor(places)
    pixels = cv2.projectPoints(points, vector, camera.translation, camera.matrix, lens)[0][:, 0]
    return pixels + np.random.default_rng(seed).normal(0, 0.5, pixels.shape)


def test_marks_through_an_action_cameras_lens_tell_its_bend():
    pixels = seen_through_an_action_camera(NEAR_HALF)
    inside = ((pixels > 0) & (pixels < SIZE)).all(axis=1)
    assert inside.sum() >= LENS_POINTS
    found = calibrate(MarkedCourt(SIZE, NEAR_HALF[inside], pixels[inside])).camera
    assert -0.35 < found.distortion < -0.2
    stance = np.array([[-0.3, -4.0], [0.3, -4.0]])
    left, right = floor_point(found, seen_through_an_action_camera(stance))
    assert np.linalg.norm((left + right)[:2] / 2 - [0, -4.0]) < 0.05
    assert abs(np.degrees(np.arctan2(*(right - left)[1::-1]))) < 2.0


def test_few_marks_through_such_a_lens_are_refused_and_more_asked_for():
    places = CORNERS[:, :2] * [0.99, 0.99]
    places[:2, 1] += 0.7
    six = np.concatenate([places, [[-3.03, -2.0], [3.03, -2.0]]])
    with pytest.raises(InputError, match="mark 8 points or more"):
        calibrate(MarkedCourt(SIZE, six, seen_through_an_action_camera(six)))


def test_focal_length_agrees_with_the_planes_closed_form():
    # Zhang, IEEE PAMI 2000, 22:1330: the images of two right-angled directions.
    pixels = project(REAR_CORNER, on_floor(CORNERS[:, :2] * [1, 0.5] - [0, 1.0]))
    places = CORNERS[:, :2] * [1, 0.5] - [0, 1.0]
    homography = cv2.findHomography(places, pixels - np.array(SIZE) / 2)[0]
    first, second = homography[:, 0], homography[:, 1]
    focal = np.sqrt(-(first[:2] @ second[:2]) / (first[2] * second[2]))
    found = calibrate(MarkedCourt(SIZE, places, pixels))
    assert found.camera.matrix[0, 0] == pytest.approx(focal, rel=2e-3)


@settings(max_examples=15, deadline=None)
@given(st.floats(0.3, 3.0), st.integers(0, 100))
def test_a_scaled_picture_gives_the_same_floor(scale, seed):
    marked = marked_by(REAR_CORNER, SIX, noise=1.0, seed=seed)
    scaled = MarkedCourt(
        (SIZE[0] * scale, SIZE[1] * scale), marked.court_points, marked.pixels * scale
    )
    pixels = np.array([[400.0, 450.0], [800.0, 600.0]])
    expected = floor_point(calibrate(marked).camera, pixels)
    found = floor_point(calibrate(scaled).camera, pixels * scale)
    np.testing.assert_allclose(found, expected, atol=1e-4)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 1000))
def test_turning_the_court_turns_the_camera(seed):
    marked = marked_by(REAR_CORNER, SIX, noise=1.0, seed=seed)
    turned = replace(marked, court_points=-marked.court_points)
    expected = turned_180(calibrate(marked).camera)
    found = calibrate(turned).camera
    np.testing.assert_allclose(found.rotation, expected.rotation, atol=1e-5)
    np.testing.assert_allclose(found.translation, expected.translation, atol=1e-4)


def test_covariance_agrees_with_monte_carlo():
    base = np.array([0.5, -4.0])
    noise = MARKING_NOISE * SIZE[0]
    exact = calibrate(marked_by(REAR_CORNER, SIX)).camera
    focals, floors, turns = [], [], []
    feet = project(REAR_CORNER, on_floor(base + [[-0.3, 0], [0.3, 0]]))
    for seed in range(400):
        drawn = calibrate(marked_by(REAR_CORNER, SIX, noise, seed)).camera
        focals.append(np.log(drawn.matrix[0, 0]))
        left, right = floor_point(drawn, feet)
        floors.append(left[:2])
        turns.append(np.arctan2(right[1] - left[1], right[0] - left[0]))
    jacobian = floor_parameter_jacobian(exact, feet)
    along_net = (jacobian[1, 1] - jacobian[0, 1]) / 0.6
    turn_sd = np.sqrt(along_net @ exact.covariance @ along_net)
    floor_sd = np.sqrt(np.diag(jacobian[0] @ exact.covariance @ jacobian[0].T))
    # 400 draws know a standard deviation to 3.5 %.
    assert np.std(focals) == pytest.approx(np.sqrt(exact.covariance[0, 0]), rel=0.15)
    assert np.std(turns) == pytest.approx(turn_sd, rel=0.15)
    np.testing.assert_allclose(np.std(floors, axis=0), floor_sd, rtol=0.15)
    assert floor_direction_error(exact, base).direction_deg >= np.degrees(turn_sd) - 1e-9


def test_noisy_marks_widen_the_covariance():
    tidy = calibrate(marked_by(REAR_CORNER, NEAR_HALF)).camera
    sloppy = calibrate(marked_by(REAR_CORNER, NEAR_HALF, noise=4.0)).camera
    assert sloppy.covariance[0, 0] > 4 * tidy.covariance[0, 0]
