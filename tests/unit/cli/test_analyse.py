"""`stance analyse`: what is wrong use."""

import pytest
from typer.testing import CliRunner

from stance.cli.app import app


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "Missing argument"),
        (("a.mp4", "--hand", "both"), "--hand"),
        (("a.mp4", "--half", "left"), "--half"),
        (("a.mp4", "--player", "E"), "--player"),
        (("a.mp4", "--date", "14.3."), "year-month-day"),
        (("a.mp4", "--name", "E=Mia"), "NAME or LETTER=NAME"),
        (("a.mp4", "--name", "A= "), "NAME or LETTER=NAME"),
    ],
)
def test_wrong_use_is_exit_code_2_and_told(arguments, words, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(app, ["analyse", *arguments])
    assert done.exit_code == 2
    assert words in " ".join(done.stderr.replace("│", " ").split())
    assert list(tmp_path.iterdir()) == []
