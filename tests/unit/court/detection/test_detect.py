"""The court that finds itself, in pictures drawn with OpenCV and in the sample clip."""

import json
from functools import cache

import cv2
import numpy as np
import pytest

from stance.court.calibration import calibrate
from stance.court.camera import Camera, camera_centre, floor_parameter_jacobian, floor_point
from stance.court.court_file import read_court_file
from stance.court.detection.detect import LEAST_CONFIDENCE, find_court
from stance.video.reader import read_frames_at
from tests.paths import DATA
from tests.unit.court.detection.pictures import (
    BADMINTON,
    BEHIND,
    BLUE,
    CORNER,
    FAR_STAND,
    FRONT,
    GREEN,
    GREY,
    RED,
    SIDE,
    SIZE,
    STAND,
    TENNIS,
    VOLLEYBALL,
    WHITE,
    WIDE,
    WIDE_LENS,
    WOOD,
    YELLOW,
    camera_at,
    drawn,
    floor_errors,
)


@pytest.mark.parametrize(
    "camera", [BEHIND, CORNER, SIDE, FRONT], ids=str.split("behind corner side front")
)
@pytest.mark.parametrize(
    "lines, floor",
    [(WHITE, GREEN), (BLUE, WOOD), (YELLOW, GREY)],
    ids=["white on green", "blue on wood", "yellow on grey"],
)
def test_a_court_is_found_from_every_side_whatever_its_colours(camera, lines, floor):
    found = find_court(drawn(camera, [(BADMINTON, lines)], floor))
    assert found.court is not None and found.court.source == "found" and found.reason == ""
    assert found.confidence >= LEAST_CONFIDENCE
    assert floor_errors(camera, found.court.camera).max() < 0.05
    assert found.court.error_px < 1.0
    assert camera_centre(found.court.camera)[1] < 0  # the near half is the camera's


def test_a_court_is_found_through_a_long_lens_from_low_beside_it():
    camera = camera_at((-10.9, -4.3, 1.5), (0.0, -4.0, 0.5), 2390)
    found = find_court(drawn(camera, [(BADMINTON, WHITE)], GREEN))
    assert found.court is not None
    assert floor_errors(camera, found.court.camera).max() < 0.05


@pytest.mark.parametrize(
    "camera, distortion",
    [(STAND, 0.43), (STAND, -0.4), (FAR_STAND, 0.0)],
    ids=["bent outwards", "bent inwards", "from afar"],
)
def test_a_court_is_found_through_a_long_lens_from_a_stand_behind_it(camera, distortion):
    picture = drawn(camera, [(BADMINTON, WHITE)], GREEN, distortion, net=True)
    found = find_court(picture)
    assert found.court is not None and found.confidence == 1.0
    assert floor_errors(camera, found.court.camera, distortion).max() < 0.05


@pytest.mark.parametrize(
    "camera",
    [
        camera_at((-0.3, 0.9, 1.85), (0.3, -4.5, 0.6), 920),
        camera_at((-1.2, 6.4, 3.0), (0.2, -3.5, 0.5), 980),
    ],
    ids=["from near", "from far"],
)
def test_a_tape_in_front_of_lines_does_not_disturb(camera):
    found = find_court(drawn(camera, [(BADMINTON, WHITE)], GREEN, net=True))
    assert found.court is not None and found.confidence == 1.0
    assert floor_errors(camera, found.court.camera).max() < 0.05


def test_other_sports_lines_in_other_colours_do_not_disturb():
    picture = drawn(CORNER, [(TENNIS, BLUE), (VOLLEYBALL, RED), (BADMINTON, WHITE)], WOOD)
    found = find_court(picture)
    assert found.court is not None
    assert floor_errors(CORNER, found.court.camera).max() < 0.05


@pytest.mark.parametrize("lines", [TENNIS, VOLLEYBALL], ids=["tennis", "volleyball"])
@pytest.mark.parametrize(
    "camera",
    [
        camera_at((0.8, -17.0, 3.4), (0.0, -4.0, 0.0), 900),
        camera_at((8.5, -15.0, 3.2), (0, -4.0, 0)),
        BEHIND,
        CORNER,
        SIDE,
        FRONT,
    ],
    ids=str.split("far corner-far behind corner side front"),
)
def test_another_sports_court_is_refused(camera, lines):
    found = find_court(drawn(camera, [(lines, WHITE)], GREEN))
    assert found.court is None and found.reason.endswith(".")


def test_a_picture_without_lines_is_refused_with_what_is_missing():
    found = find_court(drawn(CORNER, [], GREEN))
    assert found.court is None and found.confidence == 0.0
    assert "No painted lines" in found.reason


@pytest.mark.parametrize(
    "kept",
    [
        [(-3.05, -3.01, -6.7, 6.7), (-2.59, -2.55, -6.7, 6.7), (-3.05, 3.05, -6.7, -6.66)],
        [(-3.05, 3.05, -6.7, -6.66), (-3.05, 3.05, -5.94, -5.90), (-3.05, 3.05, -2.02, -1.98)],
        [
            (-3.05, -3.01, -6.7, 6.7),
            (3.01, 3.05, -6.7, 6.7),
            (-3.05, 3.05, -2.02, -1.98),
            (-3.05, 3.05, 1.98, 2.02),
        ],
    ],
    ids=["one line across", "no line along", "side lines and service lines only"],
)
def test_too_few_lines_never_make_a_wrong_court(kept):
    found = find_court(drawn(BEHIND, [(kept, WHITE)], GREEN))
    if found.court is not None:
        assert floor_errors(BEHIND, found.court.camera).max() < 0.15
    else:
        assert "Film so that" in found.reason or "Film from" in found.reason


def test_a_bent_lens_is_found_and_straight_ones_stay_straight():
    bent = find_court(drawn(CORNER, [(BADMINTON, WHITE)], GREEN, distortion=-0.05)).court
    assert bent is not None and bent.camera.distortion == pytest.approx(-0.05, abs=0.01)
    assert floor_errors(CORNER, bent.camera, -0.05).max() < 0.05
    straight = find_court(drawn(CORNER, [(BADMINTON, WHITE)], GREEN)).court
    assert straight is not None and abs(straight.camera.distortion) < 0.003


def test_a_court_is_found_through_an_action_cameras_lens():
    found = find_court(drawn(WIDE, [(BADMINTON, WHITE)], GREEN, WIDE_LENS, net=True))
    assert found.court is not None
    assert found.court.camera.distortion == pytest.approx(-0.26, abs=0.05)
    assert floor_errors(WIDE, found.court.camera, WIDE_LENS).max() < 0.05


def test_through_an_action_cameras_lens_nearly_all_lines_must_be_where_they_should():
    picture = drawn(WIDE, [(BADMINTON, WHITE)], GREEN, WIDE_LENS, net=True)
    picture[360:, 490:640] = GREEN
    found = find_court(picture)
    assert found.court is None and "wide-angle lens bends the lines" in found.reason


@cache
def two_courts():
    beside = [(a + 8.0, b + 8.0, c, d) for a, b, c, d in BADMINTON]
    camera = camera_at((4.0, -13.5, 4.5), (4.0, -2.5, 0.0), 800)
    return camera, drawn(camera, [(BADMINTON + beside, WHITE)], GREEN)


@pytest.mark.parametrize("shift", [0.0, 8.0])
def test_of_two_courts_the_one_is_meant_on_which_people_stand(shift):
    camera, picture = two_courts()
    standing = np.array([[shift - 1.0, -4.0, 0.0], [shift + 1.2, -3.5, 0.0]])
    seen = standing @ camera.rotation.T + camera.translation
    feet = (seen @ camera.matrix.T)[:, :2] / seen[:, 2:]
    found = find_court(picture, feet)
    assert found.court is not None
    assert floor_errors(camera, found.court.camera, shift=shift).max() < 0.05


def test_a_larger_picture_is_read_in_its_own_pixels():
    large = camera_at((4.6, -10.0, 2.2), (-0.5, -3.0, 0.0), 2850.0, (3840, 2160))
    found = find_court(cv2.resize(drawn(CORNER, [(BADMINTON, WHITE)], GREEN), (3840, 2160))).court
    assert found is not None and found.camera.image_size == (3840, 2160)
    assert floor_errors(large, found.camera).max() < 0.05


def test_claimed_standard_deviations_hold_for_the_errors_of_many_pictures():
    ratios = []
    for seed in range(6):
        rng = np.random.default_rng(seed)
        place = (rng.uniform(-5, 5), rng.uniform(-11, -9), rng.uniform(1.8, 3.5))
        camera = camera_at(place, (rng.uniform(-1, 1), -3.0, 0.0), rng.uniform(800, 1000))
        court = find_court(drawn(camera, [(BADMINTON, WHITE)], GREEN, noise=4.0)).court
        assert court is not None and court.camera.covariance is not None
        pixel = np.array([[640.0, 420.0]])
        error = (floor_point(court.camera, pixel) - floor_point(camera, pixel))[0, :2]
        by_camera = floor_parameter_jacobian(court.camera, pixel)[0]
        covariance = by_camera @ court.camera.covariance @ by_camera.T
        ratios.append(error @ np.linalg.solve(covariance, error))
    # Chi-squared with two degrees of freedom: 99.9 % below 13.8.
    assert max(ratios) < 13.8


def test_a_drills_court_agrees_with_the_marked_one():
    clip = DATA / "rear_corner_drill.mp4"
    marked = calibrate(read_court_file(DATA / "rear_corner_drill.court.json", SIZE)).camera
    true = json.loads((DATA / "rear_corner_drill.truth.json").read_text())["camera"]
    camera = Camera(*(np.array(true[key]) for key in "KRt"), SIZE)
    found = find_court(next(iter(read_frames_at(clip, (0,)))).image).court
    assert found is not None
    assert floor_errors(camera, found.camera).max() < 0.03
    assert np.median(floor_errors(marked, found.camera)) < 0.05
