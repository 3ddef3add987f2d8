"""`stance forget`: it asks, deletes, and prints the search that proves it."""

from typer.testing import CliRunner

from stance.cli.app import app
from tests.unit.invented_history import write_history


def run(*arguments, **options):
    return CliRunner().invoke(app, ["forget", *map(str, arguments)], **options)


def test_a_player_is_forgotten_after_a_yes_and_the_search_is_printed(tmp_path):
    folder = write_history(tmp_path / "results")
    refused = run(folder, "--player", "J-1", input="n\n")
    assert refused.exit_code == 1 and "Nothing was deleted" in refused.stderr
    assert (folder / "J-1_undated" / "result.json").exists()
    done = run(folder, "--player", "J-1", input="y\n")
    assert done.exit_code == 0
    assert "Searched for J-1 in the names and contents" in done.stdout
    assert "none found" in done.stdout
    assert run(folder, "--player", "J-1", "--yes").exit_code == 3


def test_files_of_others_that_hold_the_name_are_exit_code_1(tmp_path):
    folder = write_history(tmp_path / "results")
    (folder / "notes.txt").write_text("J-2 was late")
    done = run(folder, "--player", "J-2", "--yes")
    assert done.exit_code == 1 and "notes.txt" in done.stderr
