"""Earlier results are listed and chosen by what they carry."""

import os
import sqlite3
import sys
from contextlib import closing
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stance.comparison import history
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
    found = list_entries(folder, choice).entries
    assert len(found) == number
    assert [e.date for e in found] == sorted((e.date for e in found), key=lambda d: (d == "", d))
    assert len(read_results(folder, choice)) == number


def test_an_entry_tells_what_the_result_holds(folder):
    (entry,) = list_entries(folder, Choice("J-1", session="spring")).entries
    result = read_result(folder / entry.file)
    assert (entry.player, entry.letter, entry.clip) == ("J-1", "A", result.clip.file)
    assert (entry.view, entry.height_m, entry.distance_m) == ("side", 2.0, 7.0)
    assert (entry.court, entry.assessed, entry.over_side_on) == ("marked", 12, 1)


def test_a_player_in_a_recording_is_listed_once_by_the_last_result_that_names_him(folder):
    (entry,) = list_entries(folder, Choice("J-1", session="spring")).entries
    result = read_result(folder / entry.file)
    nameless = replace(result, players=(replace(result.players[0], name=""),), date="")
    for number, (name, again) in enumerate(
        [("kept/1", replace(result, session="early")), ("kept/2", nameless)]
    ):
        write_result(again, folder / name)
        os.utime(folder / name / "result.json", ns=(0, number))
    os.utime(folder / entry.file, ns=(0, 5))
    listed = list_entries(folder).entries
    assert [e.file for e in listed if e.clip == entry.clip] == [entry.file]
    assert len(listed) == 8
    os.utime(folder / "kept/1" / "result.json", ns=(0, 9))
    (later,) = [e for e in list_entries(folder).entries if e.clip == entry.clip]
    assert (later.file, later.session) == ("kept/1/result.json", "early")


def test_the_index_follows_the_files_and_can_be_lost(folder):
    first = list_entries(folder)
    assert (folder / INDEX_FILE).is_file()
    assert list_entries(folder) == first
    changed = folder / "J-1_2026-01-10"
    result = read_result(changed)
    write_result(replace(result, session="summer"), changed)
    assert len(list_entries(folder, Choice(session="summer")).entries) == 1
    (folder / "J-2_2026-01-10" / "result.json").unlink()
    assert len(list_entries(folder).entries) == 7
    (folder / INDEX_FILE).write_bytes(b"damaged" * 300)
    assert len(list_entries(folder).entries) == 7


def test_an_index_of_another_version_is_made_anew(folder):
    first = list_entries(folder)
    index = sqlite3.connect(folder / INDEX_FILE)
    with index:
        index.execute("UPDATE entries SET player = 'other'")
        index.execute("PRAGMA user_version = 0")
    index.close()
    assert list_entries(folder) == first


def test_an_index_that_holds_something_else_is_made_anew(folder):
    first = list_entries(folder)
    index = sqlite3.connect(folder / INDEX_FILE)
    with index:
        index.execute("UPDATE entries SET assessed = 'many'")
    index.close()
    assert list_entries(folder) == first


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.data())
def test_whatever_happens_to_the_index_the_results_are_listed(folder, data):
    first = list_entries(folder)
    content = bytearray((folder / INDEX_FILE).read_bytes())
    for place in data.draw(st.lists(st.integers(0, len(content) - 1), min_size=1, max_size=20)):
        content[place] = data.draw(st.integers(0, 255))
    (folder / INDEX_FILE).write_bytes(content[: data.draw(st.integers(0, len(content)))])
    assert len(list_entries(folder).entries) == len(first.entries)
    (folder / INDEX_FILE).unlink()


def test_a_damaged_result_is_left_out_and_named_each_time(folder):
    whole = list_entries(folder)
    file = folder / "J-1_2026-01-10" / "result.json"
    file.write_text(file.read_text().replace('"over_side_on"', '"other"', 1))
    for _ in range(2):
        found = list_entries(folder)
        assert len(found.entries) == len(whole.entries) - 1
        (more,) = {*found.left_out} - {*whole.left_out}
        assert "J-1_2026-01-10" in more and "Analyse the clip again" in more


def test_a_folder_that_cannot_be_written_to_is_listed_from_memory(folder, monkeypatch):
    first = list_entries(folder)
    update = history._update

    def update_in_memory_only(index, place):
        if index.execute("PRAGMA database_list").fetchone()[2]:
            raise sqlite3.OperationalError("attempt to write a readonly database")
        update(index, place)

    monkeypatch.setattr(history, "_update", update_in_memory_only)
    monkeypatch.setattr(history.Path, "unlink", refuse)
    assert list_entries(folder) == first


def refuse(*_, **__):
    raise PermissionError("read-only")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes have names on Unix alone")
def test_an_index_that_is_a_pipe_keeps_nobody_waiting(folder):
    first = list_entries(folder)
    (folder / INDEX_FILE).unlink()
    os.mkfifo(folder / INDEX_FILE)
    assert list_entries(folder) == first


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere all names are Unicode")
def test_a_folder_whose_name_is_not_utf_8_is_listed(folder):
    (folder / "J-1_2026-01-10").rename(folder / os.fsdecode(b"old\xff"))
    found = list_entries(folder)
    assert os.fsdecode(b"old\xff/result.json") in {entry.file for entry in found.entries}
    assert list_entries(folder) == found


def test_without_a_folder_it_says_so(tmp_path):
    with pytest.raises(InputError, match="no folder"):
        list_entries(tmp_path / "none")


def test_an_index_that_another_run_is_writing_is_left_to_it(folder, monkeypatch):
    expected = list_entries(folder)
    monkeypatch.setattr(history, "_LOCKED_S", 0.1)
    index = folder / INDEX_FILE
    with closing(sqlite3.connect(index)) as other:
        other.execute("BEGIN EXCLUSIVE")
        number = index.stat().st_ino
        assert list_entries(folder) == expected
        assert index.stat().st_ino == number
