"""The roster's names, dates and sessions go to the players whom its rows mean."""

from dataclasses import replace

import numpy as np
import pytest

from stance.academy.jobs import Job, Outcome
from stance.academy.labelling import label_results
from stance.academy.roster import Row
from tests.unit.invented import drawn_result

JOB = Job("pair.mp4")


@pytest.fixture
def outcomes():
    """A clip that shows two players, of whom A is in view longer."""
    result = drawn_result(np.random.default_rng(1), 12, 12)
    other = replace(result.players[0], player="B", frames_seen=100)
    return {JOB: Outcome(JOB, "k", replace(result, players=(result.players[0], other)))}


def names_by_letter(labelled):
    return {p.player: p.name for p in labelled.results["k"].players}


def test_letters_say_who_is_who(outcomes):
    rows = [
        Row(2, "J-0", JOB, date="2026-03-14", session="week 3", letter="B"),
        Row(3, "J-1", JOB, date="2026-03-14", session="week 3", letter="A"),
    ]
    labelled = label_results(rows, outcomes)
    assert names_by_letter(labelled) == {"A": "J-1", "B": "J-0"}
    result = labelled.results["k"]
    assert (result.date, result.session) == ("2026-03-14", "week 3")
    assert result.filming is not None and labelled.notices == ()


def test_without_a_letter_who_is_in_view_longest_is_taken_with_a_notice(outcomes):
    labelled = label_results([Row(2, "J-0", JOB)], outcomes)
    assert names_by_letter(labelled) == {"A": "J-0", "B": ""}
    (notice,) = labelled.notices
    assert notice.code == "several_players"
    assert "line 2: pair.mp4 shows 2 players" in notice.text and "player A" in notice.text


def test_a_letter_that_the_clip_does_not_show_names_nobody(outcomes):
    labelled = label_results([Row(2, "J-0", JOB, letter="C")], outcomes)
    assert names_by_letter(labelled) == {"A": "", "B": ""} and labelled.notices == ()


def test_a_clip_of_one_player_needs_no_letter_and_one_without_players_names_nobody(outcomes):
    result = outcomes[JOB].result
    for players, names in ((result.players[:1], {"A": "J-0"}), ((), {})):
        one = {JOB: Outcome(JOB, "k", replace(result, players=players))}
        labelled = label_results([Row(2, "J-0", JOB)], one)
        assert names_by_letter(labelled) == names and labelled.notices == ()


def test_a_job_without_a_result_is_left_out():
    labelled = label_results([Row(2, "J-0", JOB)], {JOB: Outcome(JOB, reason="Broken.")})
    assert labelled.results == {}
