"""The program: its commands, its version, and a quick start."""

import itertools
import subprocess
import sys

import pytest
from typer.testing import CliRunner

from stance import __version__
from stance.cli.app import app
from tests.end_to_end.command import ENVIRONMENT


def test_the_version_is_printed():
    run = CliRunner().invoke(app, ["--version"])
    assert run.exit_code == 0 and run.stdout == f"stance {__version__}\n"


@pytest.mark.parametrize("arguments", [[], ["--help"]])
def test_all_commands_are_listed(arguments):
    help_text = CliRunner().invoke(app, arguments).output
    for command in ("analyse", "court", "compare", "screen", "history", "forget", "--version"):
        assert command in help_text


@pytest.mark.parametrize("command", ["analyse", "court", "compare", "screen", "history", "forget"])
def test_every_command_has_its_help(command):
    run = CliRunner().invoke(app, [command, "--help"])
    assert run.exit_code == 0 and f" {command} [OPTIONS]" in run.stdout


@pytest.mark.parametrize(
    "command", ["", "analyse", "court", "compare", "screen", "history", "forget"]
)
def test_lines_of_help_fill_a_usual_terminal_and_are_no_longer(command):
    text = CliRunner().invoke(app, [*command.split(), "--help"]).stdout
    assert max(map(len, text.splitlines())) <= 80
    explanation = text[: text.index("\nOptions:")]
    for paragraph in explanation.split("\n\n")[1:]:
        for line, following in itertools.pairwise(paragraph.splitlines()):
            # A line ends only where the next word would not have fitted.
            assert len(f"{line} {following.split()[0]}") > 78


def test_no_summary_of_a_command_is_cut_off():
    text = CliRunner().invoke(app, ["--help"]).stdout
    assert "..." not in text[text.index("Commands:") :]


def test_an_unknown_command_is_exit_code_2_and_the_likely_one_is_told():
    done = CliRunner().invoke(app, ["analyze"])
    assert done.exit_code == 2 and "'analyse'" in done.stderr


@pytest.mark.parametrize("before", [(), ("--hand", "right")])
def test_a_clip_in_the_place_of_a_command_is_analysed(before, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "drill").write_bytes(b"no video")
    for clip, words in (("none.mp4", "There is no file none.mp4"), ("drill", "drill is not")):
        done = CliRunner().invoke(app, [*before, clip])
        assert done.exit_code == 3 and words in done.stderr


def test_a_command_wins_over_a_file_of_its_name(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "history").write_bytes(b"no video")
    done = CliRunner().invoke(app, ["history"])
    assert done.exit_code == 2 and " history [OPTIONS]" in done.stderr


def test_help_loads_no_heavy_library():
    code = (
        "import sys, stance.cli.app; "
        "heavy = {'cv2', 'av', 'mediapipe', 'scipy', 'numpy', 'jinja2', 'joblib', 'msgspec', "
        "'babel'}; "
        "print(sorted(heavy & set(sys.modules)))"
    )
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=ENVIRONMENT
    )
    assert run.stdout.strip() == "[]"


def test_a_program_that_was_stopped_frees_nothing_more():
    # What MediaPipe was making may abort when it is freed.
    aborting = (
        "import atexit, os, sys; from stance.cli import app; atexit.register(os.abort); "
        "app.app = lambda **_: (print('Stopped.'), sys.exit(130)); app.run()"
    )
    run = subprocess.run(
        [sys.executable, "-c", aborting], capture_output=True, text=True, env=ENVIRONMENT
    )
    assert (run.returncode, run.stdout) == (130, "Stopped.\n")
