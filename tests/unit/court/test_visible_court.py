"""What a camera sees of the court, against the camera's own projection."""

import numpy as np

from stance.court.calibration import calibrate
from stance.court.camera import floor_point, project
from stance.court.dimensions import court_lines, net_points
from stance.court.visible_court import least_direction_error_deg, mark_crossings, trace_court
from tests.unit.court.cameras import BEHIND, NEAR_HALF, REAR_CORNER, SIDE, marked_by


def test_every_course_lies_on_the_middle_of_a_painted_line():
    court = trace_court(BEHIND)
    assert len(court.lines) == 12
    middles = {(sum(line.x) / 2, sum(line.y) / 2): line for line in court_lines()}
    for course in court.lines:
        places = floor_point(BEHIND, course)[:, :2]
        near = [
            np.abs(places[:, 0] - x).max() < 1e-6 or np.abs(places[:, 1] - y).max() < 1e-6
            for x, y in middles
        ]
        assert any(near)


def test_the_net_runs_from_post_to_post_over_the_middle():
    posts = net_points()
    left, right = trace_court(BEHIND).net
    np.testing.assert_allclose(left[0], project(BEHIND, posts["left post"]))
    np.testing.assert_allclose(left[-1], project(BEHIND, posts["middle"]))
    np.testing.assert_allclose(right[-1], project(BEHIND, posts["right post"]))


def test_courses_stop_where_the_court_passes_behind_the_camera():
    for course in trace_court(SIDE).lines:
        assert np.isfinite(course).all()
        size = np.array(SIDE.image_size)
        assert ((course > -size) & (course < 2 * size)).all()


def test_only_crossings_in_the_picture_are_marked():
    marked = mark_crossings(SIDE)
    places = floor_point(SIDE, marked.pixels)[:, :2]
    np.testing.assert_allclose(places, marked.court_points, atol=1e-9)
    assert ((marked.pixels > 0) & (marked.pixels < SIDE.image_size)).all()
    assert 4 < len(marked.pixels) < 30
    found = calibrate(marked).camera
    np.testing.assert_allclose(found.translation, SIDE.translation, atol=0.01)


def test_the_better_known_half_counts_for_the_direction():
    near = calibrate(marked_by(REAR_CORNER, NEAR_HALF)).camera
    far = calibrate(marked_by(REAR_CORNER, -NEAR_HALF)).camera
    assert 0.1 < least_direction_error_deg(near) < 1.0
    assert 0.1 < least_direction_error_deg(far) < 5.0
