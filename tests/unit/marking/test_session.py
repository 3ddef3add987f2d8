"""The marking session without a browser: when it is over, and what it answers."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from stance.court.court_file import court_file_text, read_court_file
from stance.marking.session import MarkingSession
from stance.marking.task import MarkingTask
from tests.unit.court.cameras import NEAR_HALF, REAR_CORNER, SIX, SIZE, marked_by

# The test's own time, instead of the seconds that a coach has.
SHORT_S = 0.3


@pytest.fixture
def session(tmp_path, monkeypatch):
    monkeypatch.setattr("stance.marking.session.LEAVING_S", SHORT_S)
    picture = np.zeros((SIZE[1], SIZE[0], 3), np.uint8)
    session = MarkingSession(MarkingTask(Path("clip.mp4"), picture, tmp_path / "clip.court.json"))
    yield session
    session.stay()


def marks(places=NEAR_HALF):
    return court_file_text(marked_by(REAR_CORNER, places)).encode()


def test_a_page_that_was_left_after_saving_ends_the_session(session):
    assert session.post("save", marks())["ok"]
    session.post("leave", b"{}")
    assert session.over.wait(10 * SHORT_S)


def test_a_page_that_was_left_before_saving_does_not_end_the_session(session):
    session.post("leave", b"{}")
    assert not session.over.wait(2 * SHORT_S)


@pytest.mark.parametrize("times", [1, 2])
def test_a_page_that_comes_back_goes_on_however_often_it_was_left(session, times):
    session.post("save", marks())
    for _ in range(times):
        session.post("leave", b"{}")
    assert session.get("") is not None
    assert not session.over.wait(2 * SHORT_S)


def test_only_the_answer_to_done_after_saving_ends_the_session(session):
    session.finish("done")
    assert not session.over.is_set()
    session.post("save", marks())
    session.finish("save")
    assert not session.over.is_set()
    session.finish("done")
    assert session.over.is_set()


def test_what_is_saved_is_what_the_page_is_told_of(session):
    answer = session.post("save", marks(SIX))
    saved = read_court_file(session.task.court_file, SIZE)
    state = json.loads(session.get("state").data)
    assert state["saved"] and state["found"] == []
    np.testing.assert_array_equal([mark["pixel"] for mark in state["marks"]], saved.pixels)
    assert state["marks"][0]["name"] == "near back line, left doubles side line"
    assert answer["file"] == str(session.task.court_file) and answer["error_px"] < 0.01
    np.testing.assert_allclose(
        [mark["pixel"] for mark in answer["fitted"]], saved.pixels, atol=0.02
    )


def test_the_plan_has_every_crossing_and_line(session):
    state = json.loads(session.get("state").data)
    assert len(state["crossings"]) == 30 and len(state["lines"]) == 12
    assert state["marks"] == [] and state["found"] == [] and not state["saved"]


def test_a_found_court_is_no_marks_before_and_after_it_is_saved(session):
    laid = marked_by(REAR_CORNER, NEAR_HALF)
    session.task = replace(session.task, start=laid, is_found=True)
    before = json.loads(session.get("state").data)
    assert before["marks"] == [] and len(before["found"]) == len(NEAR_HALF)
    assert session.post("save", marks())["ok"]
    after = json.loads(session.get("state").data)
    assert after["marks"] == [] and len(after["found"]) == len(NEAR_HALF)


def test_the_answer_to_saving_names_the_next_command(session):
    assert session.post("save", marks())["next"] == session.task.next_command


def test_a_mark_that_does_not_fit_is_told_with_its_place_and_nothing_is_saved(session):
    marked = marked_by(REAR_CORNER, NEAR_HALF)
    true = marked.pixels[4].copy()
    marked.pixels[4] += [30.0, 40.0]
    for part in ("fit", "save"):
        answer = session.post(part, court_file_text(marked).encode())
        assert not answer["ok"] and answer["court"] == marked.court_points[4].tolist()
        np.testing.assert_allclose(answer["pixel"], true, atol=0.1)
        assert answer["fit"]["ok"] and len(answer["fit"]["fitted"]) == len(NEAR_HALF) - 1
    assert not session.saved and not session.task.court_file.exists()


def test_there_is_nothing_else(session):
    assert session.get("court.json") is None and session.post("state", b"{}") is None
