"""Earlier results are listed and chosen by what they carry."""

import json
import os
from dataclasses import replace

import numpy as np
import pytest

from stance.comparison.history import INDEX_FILE, Choice, chosen_results, entries
from stance.errors import InputError
from stance.results.json_format import read_result
from stance.results.model import Filming
from stance.results.writing import write_result
from tests.end_to_end.test_cli import stance
from tests.unit.invented import drawn_result


@pytest.fixture
def folder(tmp_path):
    """Two players, three dates, two sessions; and files that are no results."""
    random = np.random.default_rng(0)
    for name in ("J-1", "J-2"):
        for date, session, count in (
            ("2026-01-10", "winter", 10),
            ("2026-02-10", "winter", 9),
            ("2026-03-10", "spring", 1),
            ("", "", 3),
        ):
            result = drawn_result(
                random,
                count,
                12,
                name,
                certain=True,
                date=date,
                session=session,
                filming=Filming("side" if date > "2026-03" else "behind", 2.0, 7.0),
            )
            write_result(result, tmp_path / "results" / f"{name}_{date or 'undated'}")
    (tmp_path / "results" / "other").mkdir()
    (tmp_path / "results" / "other" / "result.json").write_text("{}")
    (tmp_path / "results" / ".part").mkdir()
    (tmp_path / "results" / ".part" / "result.json").write_text("half")
    return tmp_path / "results"


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
    found = entries(folder, choice)
    assert len(found) == number
    assert [e.date for e in found] == sorted(e.date for e in found)
    assert len(chosen_results(folder, choice)) == number


def test_the_index_follows_the_files_and_can_be_lost(folder):
    first = entries(folder)
    assert (folder / INDEX_FILE).is_file()
    assert entries(folder) == first
    changed = folder / "J-1_2026-01-10"
    result = read_result(changed)
    write_result(replace(result, session="summer"), changed)
    assert len(entries(folder, Choice(session="summer"))) == 1
    (folder / "J-2_2026-01-10" / "result.json").unlink()
    assert len(entries(folder)) == 7
    (folder / INDEX_FILE).write_bytes(b"damaged" * 300)
    assert len(entries(folder)) == 7


def test_without_a_folder_it_says_so(tmp_path):
    with pytest.raises(InputError, match="no folder"):
        entries(tmp_path / "none")


def test_the_commands_list_and_compare_what_is_chosen(folder):
    listed = stance("history", folder, "--player", "J-1", "--since", "2026-01-01", "--json")
    assert [e["date"] for e in json.loads(listed.stdout)] == [
        "2026-01-10",
        "2026-02-10",
        "2026-03-10",
    ]
    out = folder.parent / "by_date"
    run = stance(
        "compare", "--history", folder, "--player", "J-1", "--split", "2026-03-01", "--out", out
    )
    assert run.returncode == 0, run.stderr
    data = json.loads((out / "comparison.json").read_text())
    over = data["classes"]["over_side_on"]
    assert (over["before"]["count"], over["after"]["count"]) == (19, 1)
    paths = [folder / f"J-1_2026-0{month}-10" for month in (1, 2, 3)]
    given = folder.parent / "by_path"
    run = stance(
        "compare",
        "--before",
        paths[0],
        paths[1] / "result.json",
        "--after",
        paths[2],
        "--out",
        given,
    )
    assert run.returncode == 0, run.stderr
    for name in os.listdir(out):
        assert (out / name).read_bytes() == (given / name).read_bytes()
    assert data["statement"] in run.stdout


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("compare",), 2, "Give --before"),
        (("compare", "--before", "a"), 2, "Give --before"),
        (("compare", "--history", ".", "--split", "14.3."), 2, "year-month-day"),
        (("compare", "--before", "none.json", "--after", "none.json"), 3, "no result file"),
        (("history", "none"), 3, "no folder"),
        (("history", "."), 4, "No result"),
    ],
)
def test_wrong_use_is_told(tmp_path, arguments, code, words):
    run = stance(*arguments, cwd=tmp_path)
    assert run.returncode == code, run.stderr
    assert words in " ".join(run.stderr.replace("│", " ").split())
    assert "Traceback" not in run.stderr
