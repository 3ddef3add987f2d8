"""Two sets are chosen from a history by date or by session."""

import pytest

from stance.comparison.choosing import choose_by_date, choose_by_session
from stance.errors import InputError
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
