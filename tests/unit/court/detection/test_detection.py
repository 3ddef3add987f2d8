"""The court that finds itself, in pictures drawn with OpenCV and in the sample clip.

The pictures of this file are not the renderer's: polygons filled by OpenCV at four times the
size, projected by OpenCV, so that nothing here shares code with what is tested.
"""

import json
from functools import cache

import cv2
import numpy as np
import pytest

from stance.court.calibration import calibrate
from stance.court.camera import Camera, camera_centre, floor_parameter_jacobian, floor_point
from stance.court.court_file import read_court_file
from stance.court.detection.detect import LEAST_CONFIDENCE, find_court
from stance.court.detection.feet import find_moving_feet
from stance.video.reader import read_frames_at
from tests.paths import SAMPLE_CLIPS

SIZE = (1280, 720)
WHITE, GREEN, WOOD, BLUE = (240, 240, 238), (70, 125, 95), (190, 145, 95), (45, 55, 120)
GREY, YELLOW, RED = (120, 124, 126), (235, 215, 80), (190, 50, 45)


def half_lines(back, service, inset, half_width, tramline, width=0.04):
    """Painted rectangles (x0, x1, y0, y1) of one half of a racket sport's court, metres.

    Distances to the outer edges, as the laws of badminton and of tennis state them.
    """
    sides = [half_width, half_width - tramline]
    lines = [
        (s * x - (s > 0) * width, s * x + (s < 0) * width, -back, 0.0)
        for x in sides
        for s in (-1, 1)
    ]
    across = [(back - width, back), (service, service + width)]
    if inset:
        across.append((back - inset - width, back - inset))
    lines += [(-half_width, half_width, -b, -a) for a, b in across]
    return [*lines, (-width / 2, width / 2, -back if inset else -service, -service if inset else 0)]


def both_halves(half):
    return half + [(-b, -a, -d, -c) for a, b, c, d in half]


# Laws of Badminton, Law 1 and Diagram A; written out anew.
BADMINTON = both_halves(half_lines(6.70, 1.98, 0.76, 3.05, 0.46))
# ITF Rules of Tennis, rule 1: 23.77 x 10.97 m, singles 8.23 m, service line 6.40 m from the net.
TENNIS = both_halves(half_lines(11.885, 6.40, 0.0, 5.485, 1.37, 0.05))
# FIVB rules, rule 1: 18 x 9 m, attack lines 3 m from the net, centre line, 50 mm.
VOLLEYBALL = [
    (-4.5, -4.45, -9, 9),
    (4.45, 4.5, -9, 9),
    (-4.5, 4.5, -9, -8.95),
    (-4.5, 4.5, 8.95, 9),
    (-4.5, 4.5, -0.025, 0.025),
    (-4.5, 4.5, -3, -2.95),
    (-4.5, 4.5, 2.95, 3),
]


def camera_at(place, target, focal=950.0, size=SIZE):
    """A level camera at a place (metres) that looks at a point of the floor."""
    place, target = np.array(place, float), np.array(target, float)
    ahead = (target - place) / np.linalg.norm(target - place)
    right = np.cross(ahead, [0, 0, 1.0])
    right /= np.linalg.norm(right)
    rotation = np.stack([right, np.cross(ahead, right), ahead])
    matrix = np.array([[focal, 0, size[0] / 2], [0, focal, size[1] / 2], [0, 0, 1]])
    return Camera(matrix, rotation, -rotation @ place, size)


BEHIND = camera_at((0.8, -11.5, 2.4), (0.0, -2.5, 0.0), 900)
CORNER = camera_at((4.6, -10.0, 2.2), (-0.5, -3.0, 0.0))
SIDE = camera_at((8.5, -4.0, 2.6), (0.0, -3.6, 0.0), 800)
FRONT = camera_at((-1.2, 6.5, 3.0), (0.2, -3.5, 0.0))


def drawn(camera, layers, floor, distortion=0.0, noise=2.0, net=False):
    """A picture of a floor, upright and RGB, with layers of painted lines: (rectangles, colour)."""
    scale = 3
    matrix = camera.matrix.copy()
    matrix[:2] *= scale
    width, height = (side * scale for side in camera.image_size)
    canvas = np.full((height, width, 3), floor, np.uint8)
    vector = cv2.Rodrigues(camera.rotation)[0]
    lens = np.array([distortion, 0, 0, 0])

    def paint(outline, colour):
        seen = outline @ camera.rotation.T + camera.translation
        if (seen[:, 2] < 0.3).all():
            return
        outline = outline[seen[:, 2] > 0.3]
        pixels = cv2.projectPoints(outline, vector, camera.translation, matrix, lens)[0][:, 0]
        # cv2.fillPoly counts from the middle of the first pixel, in sixteenths here.
        points = np.round((np.clip(pixels, -2e4, 2e4) - 0.5) * 16).astype(np.int32)
        cv2.fillPoly(canvas, [points], colour, cv2.LINE_8, 4)

    for rectangles, colour in layers:
        for x0, x1, y0, y1 in rectangles:
            t = np.linspace(0, 1, 60)[:, None]
            corners = np.array([[x0, y0, 0], [x1, y0, 0], [x1, y1, 0], [x0, y1, 0.0]])
            edges = [a + t * (b - a) for a, b in zip(corners, np.roll(corners, -1, 0), strict=True)]
            paint(np.concatenate(edges), colour)
    if net:
        paint(
            np.array(
                [
                    [-3.05, 0, 1.55],
                    [0, 0, 1.524],
                    [3.05, 0, 1.55],
                    [3.05, 0, 1.475],
                    [0, 0, 1.449],
                    [-3.05, 0, 1.475],
                ]
            ),
            WHITE,
        )
    small = cv2.resize(canvas, camera.image_size, interpolation=cv2.INTER_AREA).astype(float)
    ramp = np.linspace(0.85, 1.1, camera.image_size[0])[None, :, None]
    small = small * ramp + np.random.default_rng(0).normal(0, noise, small.shape)
    packed = cv2.imencode(
        ".jpg", np.clip(small, 0, 255).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, 80]
    )[1]
    return cv2.imdecode(packed, cv2.IMREAD_COLOR)


def floor_errors(true, found, distortion=0.0, shift=0.0):
    """Errors (n,) metres of floor points of the half y < 0 in the picture, up to a half turn."""
    grid = np.array(
        [[x + shift, y, 0.0] for x in np.linspace(-3, 3, 7) for y in np.linspace(-6.6, 0, 12)]
    )
    seen = grid @ true.rotation.T + true.translation
    grid = grid[seen[:, 2] > 0.3]
    vector = cv2.Rodrigues(true.rotation)[0]
    pixels = cv2.projectPoints(
        grid, vector, true.translation, true.matrix, np.array([distortion, 0, 0, 0])
    )[0][:, 0]
    inside = ((pixels > 0) & (pixels < true.image_size)).all(axis=1)
    places = floor_point(found, pixels[inside])[:, :2]
    grid = grid[inside, :2] - [shift, 0]
    return min((np.linalg.norm(places - sign * grid, axis=1) for sign in (1, -1)), key=np.max)


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


def test_people_who_move_are_seen_by_their_feet():
    background = drawn(CORNER, [(BADMINTON, WHITE)], GREEN)
    picture = background.copy()
    cv2.ellipse(picture, (500, 380), (30, 100), 0, 0, 360, (30, 30, 160), -1)
    feet = find_moving_feet([picture], background)
    assert feet == pytest.approx(np.array([[500.0, 480.0]]), abs=6)
    assert find_moving_feet([background], background).shape == (0, 2)


def test_the_sample_clips_court_agrees_with_the_marked_one():
    clip = SAMPLE_CLIPS / "rear_corner_drill.mp4"
    marked = calibrate(read_court_file(SAMPLE_CLIPS / "rear_corner_drill.court.json", SIZE)).camera
    true = json.loads((SAMPLE_CLIPS / "rear_corner_drill.truth.json").read_text())["camera"]
    camera = Camera(*(np.array(true[key]) for key in "KRt"), SIZE)
    found = find_court(next(iter(read_frames_at(clip, (0,)))).image).court
    assert found is not None
    assert floor_errors(camera, found.camera).max() < 0.03
    assert np.median(floor_errors(marked, found.camera)) < 0.05
