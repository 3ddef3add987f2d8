"""Readings of stripes whose camera is known."""

import numpy as np
import pytest

from stance.court.camera import camera_centre
from stance.court.detection.readings import (
    approximate_camera,
    coincide,
    project_landmarks,
    read_stripes,
)
from stance.court.detection.stripes import LineColour
from tests.unit.court.detection.pictures import (
    BEHIND,
    CORNER,
    FAR_STAND,
    FRONT,
    SIDE,
    SIZE,
    camera_at,
    homography_of,
    pixels_of,
    stripes_of,
)

CAMERAS = [BEHIND, CORNER, SIDE, FRONT, FAR_STAND]
HALF_TURN = np.diag([-1.0, -1.0, 1.0])


@pytest.mark.parametrize("camera", CAMERAS)
def test_the_best_reading_shows_the_court_where_it_is(camera):
    stripes = stripes_of(camera)
    colour = LineColour(np.array([90.0, 0, 0]), np.ones(len(stripes), bool))
    readings = read_stripes(stripes, colour, SIZE, 10)
    best = max(readings, key=lambda reading: reading.score)
    true = homography_of(camera)
    assert any(
        coincide(project_landmarks(best.homography), project_landmarks(turned), SIZE)
        for turned in (true, true @ HALF_TURN)
    )
    np.testing.assert_allclose(best.contrast, [40.0, 20.0, -10.0])


def test_stripes_of_another_colour_are_not_read():
    stripes = stripes_of(BEHIND)
    colour = LineColour(np.array([90.0, 0, 0]), np.arange(len(stripes)) < 2)
    assert read_stripes(stripes, colour, SIZE, 10) == []


def test_landmarks_are_where_opencv_projects_them_and_nowhere_behind_the_camera():
    places = np.array([[x, y] for x in (-3.05, 0.0, 3.05) for y in (-6.7, -2.0, 2.0, 6.7)])
    landmarks = project_landmarks(homography_of(BEHIND))
    np.testing.assert_allclose(landmarks, pixels_of(BEHIND, places), atol=1e-6)
    # The far corners are behind a camera that stands over the far half's middle.
    over = project_landmarks(homography_of(camera_at((0.0, 3.5, 3.0), (0.0, -3.5, 0.0))))
    assert np.isnan(over[3::4]).all() and np.isfinite(over[::4]).all()


def test_readings_coincide_within_a_few_pixels():
    landmarks = project_landmarks(homography_of(BEHIND))
    assert coincide(landmarks, landmarks + 5.0, SIZE)
    assert not coincide(landmarks, landmarks + [0.0, 9.0], SIZE)
    assert not coincide(landmarks + 1e5, landmarks + 1e5, SIZE)


@pytest.mark.parametrize("camera", CAMERAS)
def test_a_camera_is_found_again_from_its_homography(camera):
    found = approximate_camera(3.7 * homography_of(camera), SIZE)
    assert found.matrix[0, 0] == pytest.approx(camera.matrix[0, 0], rel=0.01)
    np.testing.assert_allclose(camera_centre(found), camera_centre(camera), atol=0.1)


def test_a_court_beside_the_picture_has_no_camera():
    beside = np.array([[1, 0, 5000.0], [0, 1, 0], [0, 0, 1]]) @ homography_of(BEHIND)
    assert approximate_camera(beside, SIZE) is None
