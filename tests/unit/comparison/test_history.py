"""Earlier results are listed and chosen by what they carry."""

import sqlite3
from dataclasses import replace

import pytest

from stance.comparison.history import INDEX_FILE, Choice, list_entries, read_results
from stance.errors import InputError
from stance.results.json_format import read_result
from stance.results.writing import write_result
from tests.unit.invented_history import write_history


@pytest.fixture
def folder(tmp_path):
    return write_history(tmp_path / "results")


@pytest.mark.parametrize(
    ("choice", "number"),
    [
        (Choice(), 8),
        (Choice(player="J-1"), 4),
        (Choice(since="2026-02-10"), 4),
        (Choice(until="2026-01-31"), 2),
        (Choice(session="spring"), 2),
        (Choice(view="side"), 2),
        (Choice("J-2", "2026-01-01", "2026-02-28", "winter", "behind"), 2),
    ],
)
def test_entries_are_chosen_by_player_date_session_and_view(folder, choice, number):
    found = list_entries(folder, choice)
    assert len(found) == number
    assert [e.date for e in found] == sorted(e.date for e in found)
    assert len(read_results(folder, choice)) == number


def test_an_entry_tells_what_the_result_holds(folder):
    (entry,) = list_entries(folder, Choice("J-1", session="spring"))
    result = read_result(folder / entry.file)
    assert (entry.player, entry.letter, entry.clip) == ("J-1", "A", result.clip.file)
    assert (entry.view, entry.height_m, entry.distance_m) == ("side", 2.0, 7.0)
    assert (entry.court, entry.assessed, entry.over_side_on) == ("marked", 12, 1)


def test_the_index_follows_the_files_and_can_be_lost(folder):
    first = list_entries(folder)
    assert (folder / INDEX_FILE).is_file()
    assert list_entries(folder) == first
    changed = folder / "J-1_2026-01-10"
    result = read_result(changed)
    write_result(replace(result, session="summer"), changed)
    assert len(list_entries(folder, Choice(session="summer"))) == 1
    (folder / "J-2_2026-01-10" / "result.json").unlink()
    assert len(list_entries(folder)) == 7
    (folder / INDEX_FILE).write_bytes(b"damaged" * 300)
    assert len(list_entries(folder)) == 7


def test_an_index_of_another_version_is_made_anew(folder):
    first = list_entries(folder)
    index = sqlite3.connect(folder / INDEX_FILE)
    with index:
        index.execute("UPDATE entries SET player = 'other'")
        index.execute("PRAGMA user_version = 0")
    index.close()
    assert list_entries(folder) == first


def test_an_index_that_holds_something_else_is_refused_with_a_sentence(folder):
    list_entries(folder)
    index = sqlite3.connect(folder / INDEX_FILE)
    with index:
        index.execute("UPDATE entries SET assessed = 'many'")
    index.close()
    with pytest.raises(InputError, match=f"{INDEX_FILE} is damaged. Delete it"):
        list_entries(folder)


def test_without_a_folder_it_says_so(tmp_path):
    with pytest.raises(InputError, match="no folder"):
        list_entries(tmp_path / "none")
