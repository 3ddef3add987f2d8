"""The program: its commands, its version, and a quick start."""

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


def test_an_unknown_command_is_exit_code_2():
    assert CliRunner().invoke(app, ["analyze"]).exit_code == 2


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
