"""An academy as a whole: nobody is lost, and what counts counts once."""

import csv
import io
from dataclasses import replace

import numpy as np
import pytest

from stance.academy import screen
from stance.academy.csv_format import screening_csv
from stance.academy.jobs import Job, Outcome
from stance.academy.page import screening_html
from stance.academy.remote_files import file_name
from stance.academy.result_store import Store
from stance.academy.roster import Roster, Row
from stance.academy.screen import screen_roster
from stance.results.json_format import result_text
from stance.results.model import Notice, StrokeCounts, StrokeFaced
from tests.unit.academy.invented_academy import screen_invented, screen_rows
from tests.unit.invented import drawn_result


def test_the_surest_habit_comes_first_and_nobody_is_lost():
    screening = screen_invented(
        {"N": [(0, 14, "")], "S": [(14, 14, "")], "M": [(6, 14, "")]}, failing=["It is broken."]
    )
    assert screening.players[0].player == "S"
    assert sorted(p.player for p in screening.players) == ["M", "N", "S", "Z"]
    (nobody,) = [p for p in screening.players if p.player == "Z"]
    assert nobody.flag == "too_few" and nobody.p_value is None
    assert [(c.clip, c.reason) for c in screening.unused] == [
        ("It is broken..mp4", "It is broken.")
    ]


def test_strokes_of_a_player_who_was_never_set_count_as_met_on_the_move():
    result = drawn_result(np.random.default_rng(1), 0, 1)
    moving = tuple(StrokeFaced(2.0 * n, 0.1, ("seen",), met="on_the_move") for n in range(5))
    player = replace(result.players[0], ready_positions=(), strokes_faced=moving)
    job = Job(result.clip.file)
    outcome = Outcome(job, "k", replace(result, players=(player,)))
    screening = screen_rows([Row(2, "S", job)], {job: outcome})
    (screened,) = screening.players
    assert screening.unused == () and screened.flag == "too_few"
    assert screened.pool.strokes == StrokeCounts(on_the_move=5)
    (row,) = csv.DictReader(io.StringIO(screening_csv(screening)))
    assert (row["strokes faced"], row["met on the move"], row["met set"]) == ("5", "5", "0")
    assert 'data-name="met on the move">5 of 5<' in screening_html(screening)


def test_clips_without_a_court_count_only_where_that_is_asked_for():
    result = drawn_result(np.random.default_rng(1), 3, 12)
    result = replace(result, court=replace(result.court, source="assumed", filmed_from="left"))
    job = Job(result.clip.file)
    rows, outcomes = [Row(2, "S", job)], {job: Outcome(job, "k", result)}
    screening = screen_rows(rows, outcomes)
    assert screening.players[0].assessed == 0 and screening.players[0].flag == "too_few"
    (unused,) = screening.unused
    assert unused.clip == file_name(job.clip) and "--count-assumed" in unused.reason
    asked = screen_rows(rows, outcomes, count_assumed=True)
    assert asked.players[0].assessed == 12 and asked.unused == ()
    assert [w.code for w in asked.warnings] == ["assumed_court"]
    assert result.clip.file in asked.warnings[0].text


def test_dates_and_trend_are_told_of_each_player():
    dates = ["2026-01-05", "2026-01-12", "2026-03-02", "2026-03-09"]
    falling = [(n, 14, d) for n, d in zip((13, 12, 1, 1), dates, strict=True)]
    (player,) = screen_invented({"S": falling}, certain=True).players
    assert [d.date for d in player.dates] == dates
    assert player.trend.verdict == "down"
    (single,) = screen_invented({"S": falling[:1]}).players
    assert single.trend is None


def test_leg_that_leads_and_age_groups():
    screening = screen_invented(
        {f"A-{i}": [(12, 12, "")] for i in range(5)} | {f"N-{i}": [(0, 12, "")] for i in range(5)},
        certain=True,
    )
    assert {p.leading for p in screening.players if p.player < "M"} == {"other"}
    young, old = screening.groups
    assert (young.name, young.players, young.habits) == ("U11", 5, 5)
    assert old.habits == 0 and old.share < 0.05
    # Fisher's exact test of 5 of 5 against 0 of 5: 2 / C(10, 5).
    assert young.p_value == pytest.approx(2 / 252)


def test_the_age_group_is_that_of_the_last_date_that_has_one():
    random = np.random.default_rng(1)
    rows, outcomes = [], {}
    for line, (date, group) in enumerate(
        [("2026-02-01", "U13"), ("2026-01-01", "U11"), ("2026-03-01", "")], 2
    ):
        result = drawn_result(random, 2, 12)
        job = Job(result.clip.file)
        rows.append(Row(line, "J", job, group, date))
        outcomes[job] = Outcome(job, str(line), result)
    assert screen_rows(rows, outcomes).players[0].age_group == "U13"


def test_a_clip_of_two_players_counts_for_the_one_the_roster_names():
    random = np.random.default_rng(1)
    first, second = (drawn_result(random, n, 12, certain=True) for n in (12, 0))
    other = replace(second.players[0], player="B", frames_seen=100)
    result = replace(first, players=(first.players[0], other))
    job = Job("pair.mp4")
    outcomes = {job: Outcome(job, "k", result)}

    def flags(*letters):
        rows = [Row(i + 2, f"J-{i}", job, letter=letter) for i, letter in enumerate(letters)]
        screening = screen_rows(rows, outcomes)
        return {p.player: p.flag for p in screening.players}, screening

    assert flags("A", "B")[0] == {"J-0": "habit", "J-1": "no_sign"}
    found, screening = flags("")
    assert found == {"J-0": "habit"}
    assert [w.code for w in screening.warnings] == ["several_players"]
    found, screening = flags("C")
    assert found == {"J-0": "too_few"} and "shows only A, B" in screening.unused[0].reason


@pytest.mark.parametrize(
    ("codes", "reason"),
    [(("no_player",), "Why."), (("hand_unsure",), "No ready position was found."), ((), "No ")],
)
def test_a_clip_in_which_nobody_was_found_says_why(codes, reason):
    result = drawn_result(np.random.default_rng(1), 2, 12)
    empty = replace(result, players=(), warnings=tuple(Notice(c, "Why.") for c in codes))
    job = Job("a.mp4")
    screening = screen_rows([Row(2, "J", job)], {job: Outcome(job, "k", empty)})
    assert screening.unused[0].reason.startswith(reason)


def test_the_same_recording_counts_once():
    result = drawn_result(np.random.default_rng(1), 2, 12)
    rows = [Row(i + 2, "J", Job(f"{i}.mp4")) for i in range(2)]
    outcomes = {r.job: Outcome(r.job, "k", result) for r in rows}
    screening = screen_rows(rows, outcomes)
    assert [w.code for w in screening.warnings] == ["same_clip"]
    assert len(screening.players[0].clips) == 1


@pytest.mark.parametrize(("confidence", "codes"), [(1.0, []), (0.9, ["hand_unsure"])])
def test_a_racket_hand_that_was_not_seen_for_sure_is_told(confidence, codes):
    result = drawn_result(np.random.default_rng(0), 3, 12)
    players = (replace(result.players[0], hand_confidence=confidence),)
    job = Job(result.clip.file)
    outcome = Outcome(job, "k", replace(result, players=players))
    screening = screen_rows([Row(2, "J-0", job)], {job: outcome})
    assert [w.code for w in screening.warnings] == codes
    assert all(result.clip.file in w.text for w in screening.warnings)


@pytest.fixture
def store(tmp_path, monkeypatch):
    """A store that holds the result of a clip, without its name."""
    store = Store(tmp_path)
    result = drawn_result(np.random.default_rng(0), 3, 12)
    store.save("key", {"result.json": result_text(result).encode()}, 1.0)
    monkeypatch.setattr(
        screen,
        "analyse_jobs",
        lambda jobs, *_: {job: Outcome(job, "key", store.read("key")) for job in jobs},
    )
    return store


def test_the_stored_result_carries_the_rosters_name_date_and_session(store):
    row = Row(2, "J-7", Job("a.mp4"), date="2026-03-14", session="week 3")
    screening = screen_roster(Roster((row,), ()), store)
    assert [p.player for p in screening.players] == ["J-7"] and screening.warnings == ()
    stored = store.read("key")
    assert stored.players[0].name == "J-7"
    assert (stored.date, stored.session) == ("2026-03-14", "week 3")


def test_columns_that_mean_nothing_are_told(store):
    screening = screen_roster(Roster((Row(2, "J-7", Job("a.mp4")),), ("coach", "note")), store)
    (notice,) = screening.warnings
    assert notice.code == "unknown_columns" and "coach, note mean nothing here" in notice.text
