"""`stance history`: a table for a coach, JSON for a program."""

import json

import pytest
from typer.testing import CliRunner

from stance.cli.app import app
from tests.unit.invented_history import write_history


def run(*arguments):
    return CliRunner().invoke(app, ["history", *map(str, arguments)])


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return write_history(tmp_path_factory.mktemp("history") / "results")


def test_json_lists_the_chosen_entries(folder):
    done = run(folder, "--player", "J-1", "--since", "2026-01-01", "--json")
    entries = json.loads(done.stdout)
    assert [e["date"] for e in entries] == ["2026-01-10", "2026-02-10", "2026-03-10"]
    assert {e["player"] for e in entries} == {"J-1"}
    assert [e["over_side_on"] for e in entries] == [10, 9, 1]


def test_the_table_has_a_row_for_each_entry(folder):
    done = run(folder, "--session", "spring")
    assert done.exit_code == 0
    assert done.stdout.count("2026-03-10") >= 2 and done.stdout.count("1 of 12") == 2


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("--player", "nobody"), 4, "No result in"),
        (("--since", "14.3."), 2, "year-month-day"),
        (("--view", "above"), 2, "above"),
    ],
)
def test_what_fits_nothing_or_is_wrong_is_told(folder, arguments, code, words):
    done = run(folder, *arguments)
    assert done.exit_code == code
    assert words in " ".join(done.stderr.replace("│", " ").split())


def test_nothing_found_is_an_empty_list_for_programs(folder):
    done = run(folder, "--player", "nobody", "--json")
    assert done.exit_code == 4 and json.loads(done.stdout) == []


def test_a_folder_that_is_not_there_is_exit_code_3(tmp_path):
    done = run(tmp_path / "none")
    assert done.exit_code == 3 and "no folder" in done.stderr


def test_the_page_of_the_season_follows_each_player(folder, tmp_path):
    done = run(folder, "--player", "J-1", "--out", tmp_path / "season")
    assert done.exit_code == 0 and "report.html" in done.stderr
    page = (tmp_path / "season" / "report.html").read_text(encoding="utf-8")
    assert "Over the season: J-1" in page and "J-2" not in page


def test_folders_are_named_whole(folder, monkeypatch):
    monkeypatch.setenv("COLUMNS", "160")
    shown = run(folder, "--player", "J-1").stdout
    assert "J-1_2026-01-10" in shown and "…" not in shown
