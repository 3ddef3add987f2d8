"""Rallies labelled by eye: frames become seconds, feet marked by hand become measures."""

import json
from dataclasses import replace

import numpy as np
import pytest

from stance.court.camera import project
from stance.results.model import CourtCamera, CourtSummary, OwnStroke, StrokeFaced
from tests.evaluation.kept_analyses import KeptAnalysis, Seen, Task, body_height_m
from tests.evaluation.real_play import marked_errors, marked_measures, read_labels, score_clip
from tests.evaluation.stroke_tables import measure_table, met_table, stroke_table
from tests.unit.figures import behind_camera, figure
from tests.unit.results.invented import invented_player, invented_position, invented_result

CAMERA = behind_camera(4.0, 12.0)
SHOE_M = 0.26
# What 25 pictures a second look like after some were shown twice.
TIMES = [0.04 * k + 0.003 * (k % 3) for k in range(400)]


def _mark(lead_deg, hand):
    """An entry of feet.json for feet 0.8 m apart that point at the net."""
    side = 1.0 if hand == "right" else -1.0
    half = 0.4 * np.array([side * np.cos(np.radians(lead_deg)), np.sin(np.radians(lead_deg))])
    mark = {"clip": "folder/a.mp4", "contact": 50, "set_frame": 55, "hand": hand, "sigma_px": 2}
    for foot, middle in ((hand, half), ("left" if hand == "right" else "right", -half)):
        x, y = middle + (0.2, -4.0)
        ends = np.array([[x, y - SHOE_M / 2, 0.0], [x, y + SHOE_M / 2, 0.0]])
        heel, toe = project(CAMERA, ends).tolist()
        mark[foot] = {"heel": heel, "toe": toe}
    return mark


@pytest.mark.parametrize("hand", ["right", "left"])
@pytest.mark.parametrize("lead_deg", [-55.0, -10.0, 30.0])
def test_marked_feet_give_the_angle_that_they_stand_at(hand, lead_deg):
    measures = marked_measures(CAMERA, _mark(lead_deg, hand), hand)
    assert measures["lead_angle_deg"] == pytest.approx(lead_deg, abs=0.01)
    assert measures["stance_width_m"] == pytest.approx(0.8, abs=1e-4)
    assert measures["foot_stagger_m"] == pytest.approx(0.8 * np.sin(np.radians(lead_deg)), abs=1e-4)


def test_errors_of_the_marks_become_those_of_the_measures():
    rng = np.random.default_rng(0)
    mark = _mark(-30.0, "right") | {"sigma_px": 1.0}
    drawn = []
    for _ in range(400):
        noisy = dict(mark)
        for side in ("left", "right"):
            noisy[side] = {p: np.add(mark[side][p], rng.normal(0, 1.0, 2)) for p in mark[side]}
        drawn.append(marked_measures(CAMERA, noisy, "right"))
    for name, error in marked_errors(CAMERA, mark, "right").items():
        assert error == pytest.approx(np.std([measures[name] for measures in drawn]), rel=0.15)


def test_feet_of_which_only_the_ball_is_marked_give_none():
    mark = _mark(-10.0, "right") | {"left": {"ball": [600.0, 500.0]}}
    assert marked_measures(CAMERA, mark, "right") == {}
    assert marked_measures(CAMERA, mark | {"left": None}, "right") == {}
    assert marked_errors(CAMERA, mark, "right") == {}


@pytest.fixture
def labelled(tmp_path):
    """A folder of a clip and its labels: a serve at frame 20, strokes at 50 and 100."""
    (tmp_path / "a.mp4").write_bytes(b"")
    strokes = {"near": [[35, 1], [70, 1]], "far": [[20, 1], [50, 1], [100, 1]], "whole": True}
    late = {"clip": "folder/a.mp4", "contact": 100, "set_frame": None, "hand": "right"}
    feet = [_mark(-12.0, "right"), late | {"left": None, "right": None}]
    (tmp_path / "contacts.json").write_text(json.dumps({"folder/a.mp4": strokes}))
    (tmp_path / "feet.json").write_text(json.dumps(feet))
    return tmp_path


def _kept(strokes):
    """An analysis with strokes faced, one own stroke, and a position with a lead of -10 degrees."""
    found = CourtCamera(
        *(tuple(map(tuple, part.tolist())) for part in (CAMERA.matrix, CAMERA.rotation)),
        tuple(CAMERA.translation.tolist()),
    )
    player = replace(
        invented_player(),
        ready_positions=(invented_position(-10.0, stance_width_m=0.9),),
        strokes_faced=strokes,
        own_strokes=(OwnStroke(TIMES[35], 0.02),),
    )
    result = replace(invented_result(player), court=CourtSummary("found", 0.5, found))
    # The player goes back two metres for the stroke in frame 70.
    places = [(time, 0.0, -4.0 - 2.0 * (time > TIMES[60])) for time in TIMES]
    return KeptAnalysis(Task(None, None, "near"), result, Seen(TIMES, {"A": places}, {"A": 1.8}))


def test_strokes_are_compared_at_the_times_of_their_frames(labelled):
    (labels,) = read_labels(labelled, labelled, None)
    strokes = (
        StrokeFaced(TIMES[20] + 0.1, 0.03, ("seen",), True, "set"),
        StrokeFaced(TIMES[50] + 0.02, 0.03, ("seen",), False, "set", 0),
        StrokeFaced(TIMES[100] - 0.16, 0.03, ("seen",), False, "on_the_move"),
    )
    score = score_clip(_kept(strokes), labels)
    lines = {line[""]: line for line in stroke_table(score.faced, "").lines}
    assert (lines["serves"]["true"], lines["serves"]["recall"]) == (1, 1.0)
    assert (lines["in play"]["true"], lines["in play"]["recall"]) == (2, 0.5)
    assert lines["in play"]["precision"] == 0.5
    assert stroke_table(score.own, "").lines[0]["recall"] == 0.5
    assert met_table(score.faced).lines[-1]["agrees, of found"] == 1.0
    measures = {line["measure"]: line for line in measure_table(score.faced).lines}
    assert measures["lead angle, deg"]["bias"] == pytest.approx(2.0, abs=0.01)
    (width,) = score.widths
    assert width.measured == pytest.approx(0.5)
    assert width.marked == pytest.approx(0.8 / 1.8, abs=1e-4)
    assert width.rearwards


def test_what_lies_outside_of_labels_that_are_not_whole_is_not_judged(labelled):
    file = labelled / "contacts.json"
    strokes = (StrokeFaced(TIMES[300], 0.03, ("seen",)), StrokeFaced(TIMES[85], 0.03, ("heard",)))
    (labels,) = read_labels(labelled, labelled, None)
    assert stroke_table(score_clip(_kept(strokes), labels).faced, "").lines[0]["reported"] == 2
    file.write_text(file.read_text().replace("true", "false"))
    (labels,) = read_labels(labelled, labelled, None)
    assert stroke_table(score_clip(_kept(strokes), labels).faced, "").lines[0]["reported"] == 1


def test_only_the_listed_clips_are_judged(labelled):
    listed = labelled / "list.txt"
    listed.write_text("b.mp4\n")
    assert read_labels(labelled, labelled, listed) == []
    listed.write_text("b.mp4\na.mp4\n")
    assert len(read_labels(labelled, labelled, listed)) == 1


def test_a_body_is_as_high_as_where_it_stands_tallest():
    eyes = [2, 5]
    bodies = []
    for crouched in np.linspace(0.0, 0.5, 60):
        body = figure((0.4, -5.0))
        body[eyes] = (0.4, -5.0, 1.7 * 0.936 - crouched)
        bodies.append(project(CAMERA, body))
    assert body_height_m(CAMERA, np.array(bodies)) == pytest.approx(1.7, abs=0.05)
    assert body_height_m(CAMERA, np.full((3, 33, 2), np.nan)) == 0.0
