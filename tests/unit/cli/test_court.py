"""`stance court`: which options go together."""

from typer.testing import CliRunner

from stance.cli.app import app


def test_a_court_file_is_checked_and_never_marked():
    done = CliRunner().invoke(app, ["court", "a.mp4", "--court", "a.court.json"])
    assert done.exit_code == 2
    assert "goes with --check only" in " ".join(done.stderr.replace("│", " ").split())


def test_a_clip_that_is_not_there_is_exit_code_3(tmp_path):
    done = CliRunner().invoke(app, ["court", str(tmp_path / "none.mp4"), "--check"])
    assert done.exit_code == 3 and "none.mp4" in done.stderr
