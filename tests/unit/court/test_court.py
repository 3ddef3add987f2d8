"""The court against the Laws, the calibration against OpenCV, and every refusal.

The Laws are the Laws of Badminton of the Badminton World Federation, Law 1 and Diagram A.
"""

import json
from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from stance.court.assumed import assumed_camera
from stance.court.calibration import calibrate
from stance.court.camera import (
    Camera,
    camera_centre,
    floor_parameter_jacobian,
    floor_point,
    project,
    turned_180,
)
from stance.court.court_file import MarkedCourt, read_court_file
from stance.court.dimensions import court_lines, court_points, net_points
from stance.court.floor_error import FloorError, floor_direction_error
from stance.court.pose import MARKING_NOISE
from stance.errors import InputError

SIZE = (1280, 720)
ALL_POINTS = court_points()
NEAR_HALF = np.array(
    [p for name, p in ALL_POINTS.items() if name.startswith("near") and name.endswith("centre")]
)
CORNERS = np.array([[-3.05, -6.70], [3.05, -6.70], [3.05, 6.70], [-3.05, 6.70]])
SIX = np.array([[-3.03, -6.68], [3.03, -6.68], [3.03, -2.0], [-3.03, -2.0], [0, -2.0], [0, 2.0]])


def camera_at(place, azimuth_deg, pitch_deg, roll_deg=0.0, focal=950.0):
    """A camera at a place (metres) that looks to y, turned left, tilted down and rolled."""
    level = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])
    turn = Rotation.from_euler("z", -azimuth_deg, degrees=True).as_matrix()
    tilt = Rotation.from_euler("zx", [roll_deg, pitch_deg], degrees=True).as_matrix()
    rotation = tilt @ level @ turn
    matrix = np.array([[focal, 0, SIZE[0] / 2], [0, focal, SIZE[1] / 2], [0, 0, 1]])
    return Camera(matrix, rotation, -rotation @ np.array(place, float), SIZE)


REAR_CORNER = camera_at([4.2, -12.5, 1.7], 18.0, 5.0, 1.0)
BEHIND = camera_at([0.0, -11.5, 1.8], 0.0, 5.0)
SIDE = camera_at([9.0, -4.0, 2.0], 90.0, 8.0)
IN_FRONT = camera_at([0.5, 4.5, 1.7], 175.0, 5.0)
VIEWS = {"rear corner": REAR_CORNER, "behind": BEHIND, "side": SIDE, "in front": IN_FRONT}


def on_floor(places):
    return np.column_stack([places, np.zeros(len(places))])


def marked_by(camera, places, noise=0.0, seed=0):
    """The marks a coach would make, with noise in pixels."""
    pixels = project(camera, on_floor(places))
    pixels = pixels + np.random.default_rng(seed).normal(0, noise, pixels.shape)
    return MarkedCourt(camera.image_size, np.array(places, float), pixels)


# ---- The Laws


def test_outer_dimensions_and_diagonals_are_those_of_diagram_a():
    # Diagram A: 13.40 m x 6.10 m; diagonal of the full court 14.723 m, of the singles court
    # 14.366 m.
    right, top = np.max([[line.x[1], line.y[1]] for line in court_lines()], axis=0)
    left, bottom = np.min([[line.x[0], line.y[0]] for line in court_lines()], axis=0)
    assert (right - left, top - bottom) == pytest.approx((6.10, 13.40))
    assert np.hypot(right - left, top - bottom) == pytest.approx(14.723, abs=5e-4)
    singles = {line.name: line for line in court_lines()}
    width = singles["right singles side line"].x[1] - singles["left singles side line"].x[0]
    assert width == pytest.approx(5.18)
    assert np.hypot(width, 13.40) == pytest.approx(14.366, abs=5e-4)


def test_lines_and_gaps_chain_up_to_the_courts_size():
    # Diagram A, from the back line to the net and from side to side; lines are 40 mm (Law 1.1).
    lines = court_lines()
    half = [line.y for line in lines if line.name.startswith("far") and "centre" not in line.name]
    edges = np.concatenate([[0.0], np.ravel(sorted(half))])
    np.testing.assert_allclose(np.diff(edges), [1.98, 0.04, 3.88, 0.04, 0.72, 0.04], atol=1e-12)
    assert edges[-1] == pytest.approx(6.70)
    across = [line.x for line in lines if "side line" in line.name or "far centre" in line.name]
    gaps = np.diff(np.ravel(sorted(across)))
    expected = [0.04, 0.42, 0.04, 2.53, 0.04, 2.53, 0.04, 0.42, 0.04]
    np.testing.assert_allclose(gaps, expected, atol=1e-12)
    assert sum(gaps) == pytest.approx(6.10)


def test_every_line_is_40_mm_wide_and_both_halves_are_alike():
    lines = court_lines()
    for line in lines:
        assert min(np.ptp(line.x), np.ptp(line.y)) == pytest.approx(0.04)
    rectangles = {(*np.round(line.x, 6), *np.round(line.y, 6)) for line in lines}
    turned = {(-x1, -x0, -y1, -y0) for x0, x1, y0, y1 in rectangles}
    assert turned == rectangles


def test_named_points_lie_where_the_interface_says():
    assert len(ALL_POINTS) == 2 * 3 * 5 * 5
    corner = "far back line, right doubles side line"
    assert ALL_POINTS[f"{corner}, right back corner"] == pytest.approx((3.05, 6.70))
    assert ALL_POINTS[f"{corner}, centre"] == pytest.approx((3.03, 6.68))
    assert ALL_POINTS["near long service line, centre line, centre"] == pytest.approx((0, -5.92))
    # 1.98 m runs from the net to the net's side of the short service line.
    tee = ALL_POINTS["near short service line, centre line, left net corner"]
    assert tee == pytest.approx((-0.02, -1.98))


def test_net_heights_are_those_of_law_1():
    # Law 1.10: 1.524 m at the centre, 1.55 m over the side lines for doubles.
    points = net_points()
    assert points["middle"] == (0.0, 0.0, 1.524)
    assert points["left post"] == pytest.approx((-3.03, 0.0, 1.55))
    assert points["right post"] == pytest.approx((3.03, 0.0, 1.55))


# ---- Calibration


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
    done, vector, translation = cv2.solvePnP(
        on_floor(marked.court_points), marked.pixels, found.camera.matrix, None
    )
    assert done
    turn = Rotation.from_matrix(cv2.Rodrigues(vector)[0] @ found.camera.rotation.T).magnitude()
    assert np.degrees(turn) < 0.02
    np.testing.assert_allclose(translation[:, 0], found.camera.translation, atol=0.005)
    assert 0.5 < found.error_px < 2.0


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


@pytest.mark.parametrize("view", VIEWS)
def test_a_whole_half_carries_the_direction(view):
    # Measured before: 2 px of noise on all crossings of the near half add 0.2 to 0.6 degrees.
    errors = []
    for seed in range(3):
        marked = marked_by(VIEWS[view], NEAR_HALF, noise=2.0, seed=seed)
        camera = calibrate(marked).camera
        errors.append(floor_direction_error(camera, (0.0, -4.0)))
    assert 0.15 < np.mean([error.direction_deg for error in errors]) < 0.8
    assert max(error.position_m for error in errors) < 0.06


def test_an_exact_camera_adds_nothing_and_an_unseen_base_has_no_error():
    assert floor_direction_error(REAR_CORNER, (0, -4)) == FloorError(0.0, 0.0)
    camera = calibrate(marked_by(REAR_CORNER, NEAR_HALF)).camera
    assert np.isnan(floor_direction_error(camera, (4.2, -13.5)).direction_deg)


# ---- Refusals of the calibration


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("noise", [0.0, 1.5])
def test_mirrored_points_are_refused(view, noise):
    marked = marked_by(VIEWS[view], NEAR_HALF, noise)
    with pytest.raises(InputError, match="left and right are swapped"):
        calibrate(replace(marked, court_points=marked.court_points * [-1, 1]))


@settings(max_examples=6, deadline=None)
@given(st.integers(0, 14), st.floats(0, 2 * np.pi), st.integers(0, 1000))
def test_one_wrong_point_is_named(wrong, angle, seed):
    marked = marked_by(REAR_CORNER, NEAR_HALF, noise=1.0, seed=seed)
    marked.pixels[wrong] += 40 * np.array([np.cos(angle), np.sin(angle)])
    with pytest.raises(InputError, match=rf"Marked point {wrong + 1} \(.*it lies [345]\d pixels"):
        calibrate(marked)


def test_two_wrong_points_are_all_doubted():
    marked = marked_by(REAR_CORNER, SIX)
    marked.pixels[[0, 2]] += [[0, 60], [50, -60]]
    with pytest.raises(InputError, match="check them all"):
        calibrate(marked)


def test_four_contradictory_points_are_refused():
    marked = marked_by(REAR_CORNER, SIX[:4])
    swapped = replace(marked, court_points=marked.court_points[[1, 0, 2, 3]])
    with pytest.raises(InputError, match="four marked points do not fit together"):
        calibrate(swapped)


def test_points_that_no_camera_can_see_are_refused():
    marked = marked_by(REAR_CORNER, NEAR_HALF)
    shuffled = np.random.default_rng(3).permutation(len(NEAR_HALF))
    with pytest.raises(InputError, match="do not fit together|does not fit the others"):
        calibrate(replace(marked, court_points=marked.court_points[shuffled]))


def test_four_crossings_that_cannot_carry_the_measures_are_refused():
    tramline_corner = [[3.03, -6.68], [2.57, -6.68], [2.57, -5.92], [3.03, -5.92]]
    for seed in range(5):
        marked = marked_by(REAR_CORNER, tramline_corner, noise=0.5, seed=seed)
        with pytest.raises(InputError, match="cannot carry the measures|do not fit together"):
            calibrate(marked)
    with pytest.raises(InputError, match="as far apart as the picture shows"):
        calibrate(marked_by(REAR_CORNER, tramline_corner))


def test_four_well_spread_corners_are_enough():
    found = calibrate(marked_by(REAR_CORNER, SIX[:4], noise=1.0))
    assert floor_direction_error(found.camera, (0, -4)).direction_deg < 3


# ---- The assumed camera


@pytest.mark.parametrize("facing", ["away", "towards"])
def test_the_assumed_camera_sees_the_player_where_he_is(facing):
    feet, head = [740.0, 610.0], [735.0, 300.0]
    found = assumed_camera(feet, head, SIZE, facing)
    camera = found.camera
    assert found.source == "assumed" and found.error_px is None
    assert camera_centre(camera)[2] == pytest.approx(1.5)
    base = floor_point(camera, feet)
    assert base[1] == pytest.approx(-4.0)
    top = project(camera, base + [0, 0, 1.70])
    assert top[1] == pytest.approx(head[1])
    along_net = project(camera, base + [0.5, 0, 0]) - feet
    assert along_net[1] == pytest.approx(0, abs=1e-9)
    assert (along_net[0] > 0) == (facing == "away")
    Rotation.from_matrix(camera.rotation)
    assert np.linalg.det(camera.rotation) == pytest.approx(1)


@pytest.mark.parametrize("facing", ["away", "towards"])
@pytest.mark.parametrize("feet", [(640, 600), (200, 500), (1000, 690)])
def test_the_assumed_cameras_errors_are_honestly_large(facing, feet):
    camera = assumed_camera(feet, (feet[0], feet[1] - 250), SIZE, facing).camera
    assert np.sqrt(camera.covariance[0, 0]) == pytest.approx(0.25)
    error = floor_direction_error(camera, floor_point(camera, feet)[:2])
    assert 10 < error.direction_deg < 25
    assert error.position_m == pytest.approx(1.0, abs=0.1)


def test_a_head_below_the_feet_is_a_mistake_of_the_caller():
    with pytest.raises(ValueError, match="above"):
        assumed_camera((640, 300), (640, 500), SIZE)


# ---- The court file


def court_file(folder, **changes):
    pixels = project(REAR_CORNER, on_floor(SIX))
    content = {
        "schema": "stance-court/1",
        "image_size": list(SIZE),
        "points": [
            {"court": place.tolist(), "pixel": pixel.tolist()}
            for place, pixel in zip(SIX, pixels, strict=True)
        ],
    }
    path = folder / "court.json"
    path.write_text(json.dumps({**content, **changes}))
    return path


def with_point(folder, index, **changes):
    points = json.loads(court_file(folder).read_text())["points"]
    points[index].update(changes)
    return court_file(folder, points=points)


def test_a_court_file_is_read_as_written(tmp_path):
    marked = read_court_file(court_file(tmp_path), SIZE)
    np.testing.assert_allclose(marked.court_points, SIX)
    np.testing.assert_allclose(marked.pixels, project(REAR_CORNER, on_floor(SIX)))
    assert marked.image_size == SIZE
    assert calibrate(marked).error_px < 0.01


def test_a_missing_file_and_a_folder_are_refused(tmp_path):
    with pytest.raises(InputError, match="There is no court file"):
        read_court_file(tmp_path / "absent.json", SIZE)
    with pytest.raises(InputError, match="is a folder"):
        read_court_file(tmp_path, SIZE)


@pytest.mark.parametrize("content", [b"", b"hello", b'{"schema": ', b"\xff\xfe\x00", b"[" * 99999])
def test_what_is_not_json_is_refused(tmp_path, content):
    path = tmp_path / "court.json"
    path.write_bytes(content)
    with pytest.raises(InputError, match="not JSON"):
        read_court_file(path, SIZE)


@pytest.mark.parametrize("content", ["[]", "{}", '{"schema": "stance-court/2"}', "3"])
def test_another_schema_is_refused(tmp_path, content):
    path = tmp_path / "court.json"
    path.write_text(content)
    with pytest.raises(InputError, match="does not begin with"):
        read_court_file(path, SIZE)


def test_another_pictures_size_is_refused_with_both_sizes(tmp_path):
    with pytest.raises(InputError, match="640 x 360 pixels.*1280 x 720"):
        read_court_file(court_file(tmp_path, image_size=[640, 360]), SIZE)
    with pytest.raises(InputError, match="turned upright"):
        read_court_file(court_file(tmp_path, image_size=[720, 1280]), SIZE)


@pytest.mark.parametrize("size", [None, [1280], ["1280", "720"], [1280.0, 720.0], [True, True]])
def test_a_file_without_the_pictures_size_is_refused(tmp_path, size):
    with pytest.raises(InputError, match="two whole numbers"):
        read_court_file(court_file(tmp_path, image_size=size), SIZE)


@pytest.mark.parametrize("points", [None, [], [{"court": [0, -2], "pixel": [1, 1]}] * 3])
def test_fewer_than_four_points_are_refused(tmp_path, points):
    with pytest.raises(InputError, match="at least four"):
        read_court_file(court_file(tmp_path, points=points), SIZE)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), "12", None, True, 10**400, [1]])
@pytest.mark.parametrize("key", ["court", "pixel"])
def test_a_coordinate_that_is_no_number_is_refused(tmp_path, key, value):
    with pytest.raises(InputError, match="Point 2 .*plain numbers"):
        read_court_file(with_point(tmp_path, 1, **{key: [value, 2.0]}), SIZE)


@pytest.mark.parametrize("pair", [None, 3, [1.0], [1.0, 2.0, 3.0], {"x": 1}])
def test_a_point_without_two_numbers_is_refused(tmp_path, pair):
    with pytest.raises(InputError, match='Point 5 .*no "pixel" of two numbers'):
        read_court_file(with_point(tmp_path, 4, pixel=pair), SIZE)


def test_points_off_the_court_or_outside_the_picture_are_refused(tmp_path):
    with pytest.raises(InputError, match="Point 1 .*off the court"):
        read_court_file(with_point(tmp_path, 0, court=[-6.68, -3.03]), SIZE)
    with pytest.raises(InputError, match="Point 3 .*outside the picture"):
        read_court_file(with_point(tmp_path, 2, pixel=[1281.0, 300.0]), SIZE)


def test_a_point_marked_twice_is_refused(tmp_path):
    with pytest.raises(InputError, match="Points 1 and 6 .*same court place"):
        read_court_file(with_point(tmp_path, 5, court=SIX[0].tolist()), SIZE)
    pixel = project(REAR_CORNER, on_floor(SIX))[0].tolist()
    with pytest.raises(InputError, match="Points 1 and 6 .*same pixel"):
        read_court_file(with_point(tmp_path, 5, pixel=pixel), SIZE)


def test_three_of_the_first_four_on_a_line_are_refused(tmp_path):
    with pytest.raises(InputError, match="Points 1, 2 and 3 .*on one line"):
        read_court_file(with_point(tmp_path, 2, court=[0.0, -6.68]), SIZE)
