"""`stance compare`: which options go together, and what is compared."""

import json
import shutil

import numpy as np
import pytest
from typer.testing import CliRunner

from stance.cli.app import app
from stance.results.writing import write_result
from tests.unit.invented import drawn_result
from tests.unit.invented_history import write_history


def run(*arguments):
    return CliRunner().invoke(app, ["compare", *map(str, arguments)])


@pytest.fixture
def folder(tmp_path):
    return write_history(tmp_path / "results")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "Give --before"),
        (("--before", "a"), "Give --before"),
        (("--before", "a", "--after", "b", "--split", "2026-01-01"), "need --history"),
        (("--before", "a", "--after", "b", "--history", "."), "not both"),
        (("--history", "."), "either --split or --sessions"),
        (("--history", ".", "--split", "2026-01-01", "--sessions", "a", "b"), "either --split"),
        (("--history", ".", "--split", "14.3."), "year-month-day"),
    ],
)
def test_options_that_do_not_go_together_are_wrong_use(tmp_path, arguments, words):
    done = run(*arguments, "--out", tmp_path / "out")
    assert done.exit_code == 2
    assert words in " ".join(done.stderr.replace("│", " ").split())
    assert not (tmp_path / "out").exists()


def test_a_path_that_is_no_result_is_told(tmp_path):
    done = run("--before", "none.json", "--after", "none.json", "--out", tmp_path / "out")
    assert done.exit_code == 3 and "no result file" in done.stderr


def test_sets_chosen_from_a_history_and_given_as_paths_compare_alike(folder, tmp_path):
    # A file that is no result would be named in what is chosen from the history.
    shutil.rmtree(folder / "other")
    by_date, by_path, by_session = (tmp_path / f"by_{way}" for way in ("date", "path", "session"))
    chosen = ("--history", folder, "--player", "J-1")
    assert run(*chosen, "--split", "2026-03-01", "--out", by_date).exit_code == 0
    done = run(*chosen, "--sessions", "winter", "spring", "--out", by_session)
    assert done.exit_code == 0
    data = json.loads((by_date / "comparison.json").read_text())
    over = data["classes"]["over_side_on"]
    assert (over["before"]["count"], over["after"]["count"]) == (19, 1)
    assert data["statement"] in done.stdout and f"Report: {by_session}" in done.stdout
    # --before takes all paths up to the next option.
    first, second, third = (folder / f"J-1_2026-0{month}-10" for month in (1, 2, 3))
    paths = ("--before", first, second / "result.json", "--after", third)
    assert run(*paths, "--out", by_path).exit_code == 0
    assert {p.name for p in by_date.iterdir()} == {"comparison.json", "report.html"}
    for file in by_date.iterdir():
        assert file.read_bytes() == (by_path / file.name).read_bytes()
        assert file.read_bytes() == (by_session / file.name).read_bytes()


def test_nothing_assessed_is_exit_code_4_and_written(tmp_path):
    random = np.random.default_rng(0)
    for name, positions in (("a", 12), ("b", 0)):
        write_result(drawn_result(random, 0, positions, "J"), tmp_path / name)
    done = run("--before", tmp_path / "a", "--after", tmp_path / "b", "--out", tmp_path / "out")
    assert done.exit_code == 4 and "none could be assessed after" in done.stdout
    assert (tmp_path / "out" / "comparison.json").is_file()
    assert "Note: " in done.stderr


def test_the_court_file_beside_a_clip_is_told_and_what_lies_beside_a_folder_is_not(
    folder, tmp_path
):
    clip = tmp_path / "a.mp4"
    clip.write_bytes(b"no video")
    result = next(path.parent for path in folder.rglob("result.json"))
    for name in ("a.court.json", f"{result.name}.court.json"):
        (result.parent / name).write_text("{}")
        (tmp_path / name).write_text("{}")
    done = run("--before", result, "--after", clip, "--out", tmp_path / "out")
    told = " ".join(done.stderr.split())
    assert told.count("which lies beside the clip.") == 1
    assert f"The court is taken from {tmp_path / 'a.court.json'}" in told
