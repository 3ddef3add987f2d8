"""What the page is told, against the camera that the marks come from."""

import json
from dataclasses import replace

import numpy as np
import pytest

from stance.court.court_file import MarkedCourt
from stance.court.visible_court import mark_crossings, trace_court
from stance.errors import InputError
from stance.marking.page import are_laid, describe_court, describe_fit, describe_marks
from tests.unit.court.cameras import NEAR_HALF, REAR_CORNER, SIZE, marked_by


def test_a_fit_shows_the_lines_where_the_camera_sees_them():
    fit = json.loads(json.dumps(describe_fit(marked_by(REAR_CORNER, NEAR_HALF))))
    assert fit["ok"] and fit["error_px"] < 0.01 and 0 < fit["direction_deg"] < 1
    seen = trace_court(REAR_CORNER)
    for name, courses in (("lines", seen.lines), ("net", seen.net)):
        assert len(fit[name]) == len(courses)
        for shown, true in zip(fit[name], courses, strict=True):
            np.testing.assert_allclose(shown, true, atol=0.5)
    crossings = mark_crossings(REAR_CORNER)
    assert [point["court"] for point in fit["crossings"]] == crossings.court_points.tolist()


def test_a_mark_that_is_off_is_told_where_the_others_put_it():
    marked = marked_by(REAR_CORNER, NEAR_HALF)
    true = marked.pixels[3].copy()
    marked.pixels[3] += [0.0, 5.0]
    fitted = np.array([point["pixel"] for point in describe_fit(marked)["fitted"]])
    assert np.linalg.norm(fitted[3] - true) < 2.0
    np.testing.assert_allclose(np.delete(fitted, 3, 0), np.delete(marked.pixels, 3, 0), atol=1.5)


def test_marks_that_contradict_each_other_have_no_fit():
    marked = marked_by(REAR_CORNER, NEAR_HALF)
    with pytest.raises(InputError, match="left and right are swapped"):
        describe_fit(replace(marked, court_points=marked.court_points * [-1, 1]))


@pytest.mark.parametrize(
    ("noise", "points", "laid"), [(0.0, 15, True), (0.0, 6, False), (0.5, 15, False)]
)
def test_only_many_points_that_lie_exactly_on_a_camera_were_laid_by_one(noise, points, laid):
    assert are_laid(marked_by(REAR_CORNER, NEAR_HALF[-points:], noise)) == laid


def test_marks_that_contradict_each_other_were_not_laid():
    marked = marked_by(REAR_CORNER, NEAR_HALF)
    assert not are_laid(replace(marked, court_points=marked.court_points * [-1, 1]))


def test_crossings_have_their_names_and_other_places_their_metres():
    places = np.array([[0.0, -2.0], [1.25, -3.0]])
    marks = describe_marks(MarkedCourt(SIZE, places, np.array([[10.0, 20.0], [30.0, 40.0]])))
    assert [mark["name"] for mark in marks] == [
        "near short service line, centre line",
        "court 1.25, -3.00 m",
    ]
    assert marks[0]["pixel"] == [10.0, 20.0]


def test_the_plan_names_every_crossing_once():
    court = describe_court()
    names = [crossing["name"] for crossing in court["crossings"]]
    assert len(set(names)) == len(names) == 30 and len(court["lines"]) == 12
