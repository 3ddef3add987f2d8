"""Two sets are chosen from a history by date or by session."""

from dataclasses import replace

import pytest

from stance.comparison.choosing import choose_by_date, choose_by_session, choose_season
from stance.comparison.history import Choice
from stance.errors import InputError
from stance.results.json_format import read_result
from stance.results.writing import write_result
from tests.unit.invented_history import write_history


@pytest.fixture
def folder(tmp_path):
    return write_history(tmp_path / "results")


def dates(results):
    return [result.date for result in results]


def test_results_of_the_date_itself_count_as_after_and_undated_ones_not_at_all(folder):
    sets = choose_by_date(folder, "2026-02-10", "J-1")
    assert dates(sets.before) == ["2026-01-10"]
    assert dates(sets.after) == ["2026-02-10", "2026-03-10"]


def test_without_a_player_everybody_is_chosen(folder):
    sets = choose_by_date(folder, "2026-03-01")
    assert (len(sets.before), len(sets.after)) == (4, 2)


def test_sessions_are_the_sets(folder):
    sets = choose_by_session(folder, "winter", "spring", "J-2")
    assert dates(sets.before) == ["2026-01-10", "2026-02-10"]
    assert dates(sets.after) == ["2026-03-10"]


@pytest.mark.parametrize(("split", "empty"), [("2020-01-01", "before"), ("2030-01-01", "after")])
def test_an_empty_set_is_named(folder, split, empty):
    with pytest.raises(InputError, match=f"fits the set {empty}.*stance history"):
        choose_by_date(folder, split)


def test_an_unknown_session_is_named(folder):
    with pytest.raises(InputError, match="fits the set after"):
        choose_by_session(folder, "winter", "autumn")


def test_sets_know_their_folders(folder):
    sets = choose_by_session(folder, "winter", "spring", "J-2")
    for result in (*sets.before, *sets.after):
        assert read_result(sets.folders[result.clip.sha256]) == result


def test_a_season_has_each_named_players_clips_in_the_order_of_the_dates(folder):
    season = choose_season(folder, Choice())
    assert list(season.players) == ["J-1", "J-2"] and season.left_out == ()
    assert [c.date for c in season.players["J-2"]] == ["2026-01-10", "2026-02-10", "2026-03-10", ""]
    assert list(choose_season(folder, Choice(player="J-1")).players) == ["J-1"]


def test_who_has_no_name_and_where_no_court_is_known_is_left_out_of_a_season(folder):
    for place, change in (
        ("J-1_2026-01-10", lambda r: replace(r, players=(replace(r.players[0], name=""),))),
        ("J-2_2026-01-10", lambda r: replace(r, court=replace(r.court, source="assumed"))),
    ):
        write_result(change(read_result(folder / place)), folder / place)
    season = choose_season(folder, Choice(until="2026-01-31"))
    assert season.players == {} and len(season.left_out) == 2
