"""The coach's court file: what is read, and what is refused in which words."""

import json
from itertools import combinations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from stance.court.calibration import calibrate
from stance.court.camera import project
from stance.court.court_file import (
    MOST_BYTES,
    check_court,
    court_file_text,
    read_court_file,
    round_marks,
    span_a_plane,
)
from stance.court.dimensions import court_points
from stance.errors import InputError
from tests.unit.court.cameras import REAR_CORNER, SIX, SIZE, on_floor


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


@pytest.mark.parametrize(
    "content", [b"", b"hello", b'{"schema": ', b"\xff\xfe\x00", b"[" * 99999, b'{"a": "\\ud800"}']
)
def test_what_is_not_json_is_refused(tmp_path, content):
    path = tmp_path / "court.json"
    path.write_bytes(content)
    with pytest.raises(InputError, match="not JSON"):
        read_court_file(path, SIZE)


def test_a_device_and_a_file_without_end_are_refused(tmp_path):
    with pytest.raises(InputError, match="pipe or a device"):
        read_court_file("/dev/zero", SIZE)
    (tmp_path / "court.json").write_bytes(b" " * (MOST_BYTES + 1))
    with pytest.raises(InputError, match="too large for a court file"):
        read_court_file(tmp_path / "court.json", SIZE)


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


@pytest.mark.parametrize("third", [[0.0, -6.68], [0.0, -5.92]])
def test_three_on_one_line_are_read_where_the_others_span_the_court(tmp_path, third):
    marked = read_court_file(with_point(tmp_path, 2, court=third), SIZE)
    assert len(marked.court_points) == 6


def pixels_of(places):
    return project(REAR_CORNER, on_floor(places))


def points_of(places):
    return [
        {"court": list(place), "pixel": pixel.tolist()}
        for place, pixel in zip(places, pixels_of(np.array(places)), strict=True)
    ]


BACK_LINE = [[x, -6.68] for x in (-3.03, -2.57, 0.0, 2.57, 3.03)]


@pytest.mark.parametrize(
    "places",
    [BACK_LINE, [*BACK_LINE, [0.0, -2.0]], [[0.0, -2.0], *BACK_LINE[:3]]],
    ids=["all", "all but one", "three of four"],
)
def test_points_on_one_line_are_refused(tmp_path, places):
    with pytest.raises(InputError, match="on one line, all or all but one"):
        read_court_file(court_file(tmp_path, points=points_of(places)), SIZE)


@settings(max_examples=30, deadline=None)
@given(st.permutations(range(7)))
def test_any_order_of_the_same_points_gives_the_same_camera(order):
    # Five of the seven lie on one line, so that most orders begin with three on it.
    points = points_of([*BACK_LINE, [3.03, -2.0], [-3.03, -2.0]])
    content = {"schema": "stance-court/1", "image_size": list(SIZE)}
    cameras = [
        calibrate(check_court({**content, "points": [points[k] for k in numbers]}, "x.json")).camera
        for numbers in (range(7), order)
    ]
    for field in ("matrix", "rotation", "translation", "covariance"):
        first, second = (getattr(camera, field) for camera in cameras)
        np.testing.assert_allclose(second, first, rtol=1e-4, atol=1e-5)


CROSSINGS = sorted(p for name, p in court_points().items() if name.endswith("centre"))


@settings(max_examples=50, deadline=None)
@given(
    st.lists(
        st.sampled_from(CROSSINGS),
        min_size=4,
        max_size=7,
        unique=True,
    )
)
def test_points_span_a_plane_where_four_of_them_have_no_three_on_one_line(places):
    def apart(four):
        """The least height of three of four points over their longest side."""
        heights = []
        for three in combinations(np.array(four), 3):
            (a, b), (c, d) = three[1] - three[0], three[2] - three[0]
            longest = max(np.linalg.norm(p - q) for p, q in combinations(three, 2))
            heights.append(abs(a * d - b * c) / longest)
        return min(heights)

    best = max(apart(four) for four in combinations(places, 4))
    assume(not 0.03 < best < 0.3)
    assert span_a_plane(np.array(places)) == (best > 0.1)


def test_a_byte_order_mark_is_no_part_of_the_file(tmp_path):
    path = court_file(tmp_path)
    path.write_text(path.read_text(), encoding="utf-8-sig")
    assert read_court_file(path, SIZE).image_size == SIZE


def test_without_a_clip_the_files_own_size_holds(tmp_path):
    assert read_court_file(court_file(tmp_path, image_size=[1300, 800])).image_size == (1300, 800)


def test_what_is_written_is_read_again_to_a_hundredth_of_a_pixel(tmp_path):
    marked = read_court_file(court_file(tmp_path), SIZE)
    path = tmp_path / "again.json"
    path.write_text(court_file_text(marked))
    again = read_court_file(path, SIZE)
    np.testing.assert_allclose(again.pixels, marked.pixels, atol=0.0051)
    np.testing.assert_array_equal(again.pixels, round_marks(marked).pixels)
    np.testing.assert_allclose(again.court_points, marked.court_points, atol=1e-9)
