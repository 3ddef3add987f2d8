"""`stance screen`: what is said of a plan, and what is refused."""

import pytest
from typer.testing import CliRunner

from stance.academy import batch
from stance.academy.jobs import Job
from stance.cli.app import app


def run(*arguments):
    return CliRunner().invoke(app, ["screen", *map(str, arguments)])


@pytest.fixture
def roster(tmp_path):
    for name in "ab":
        (tmp_path / f"{name}.mp4").write_bytes(b"x")
    (tmp_path / "roster.csv").write_text("player,clip\nJ-1,a.mp4\nJ-2,b.mp4\n")
    return tmp_path / "roster.csv"


def test_a_roster_with_mistakes_starts_nothing(tmp_path):
    (tmp_path / "wrong.csv").write_text("player,clip\n,none.mp4\n")
    done = run(tmp_path / "wrong.csv", "--out", tmp_path / "new")
    assert done.exit_code == 3 and not (tmp_path / "new").exists()
    assert "line 2: no player is named" in done.stderr
    assert "line 2: there is no clip" in done.stderr


@pytest.mark.parametrize(
    ("frames", "options", "words"),
    [
        (1000, ("--workers", "1"), "About 55 s with 1 worker. 1000 frames at 0.050 s each,"),
        (10_000, ("--workers", "9"), "About 4 minutes with 2 workers. 10000 frames"),
        (500_000, ("--workers", "2"), "About 3.5 hours with 2 workers"),
        (1000, ("--scheduler", "tcp://a:1"), "About 55 s, shared between the scheduler's workers"),
    ],
)
def test_a_plan_says_how_long_it_would_take(monkeypatch, roster, frames, options, words):
    jobs = tuple(Job(name) for name in ("a.mp4", "b.mp4"))
    plan = batch.Plan((), jobs, frames, 0, 0.05, measured=True)
    monkeypatch.setattr(batch, "plan_jobs", lambda *_: plan)
    done = run(roster, "--dry-run", "--out", roster.parent / "new", *options)
    assert done.exit_code == 0 and not (roster.parent / "new").exists()
    assert done.stdout.startswith("2 clips: 0 kept from earlier, 2 to analyse.\n")
    assert "  to analyse: a.mp4\n  to analyse: b.mp4\n" in done.stdout
    assert words in done.stdout and "at 0.050 s each, as the kept clips took." in done.stdout


def test_a_plan_with_nothing_to_do_says_so(monkeypatch, roster):
    plan = batch.Plan((Job("a.mp4"),), (), 0, 0, 0.05, measured=True)
    monkeypatch.setattr(batch, "plan_jobs", lambda *_: plan)
    done = run(roster, "--dry-run", "--out", roster.parent / "new")
    assert done.stdout == (
        "1 clip: 1 kept from earlier, 0 to analyse.\n"
        "Only the reports would be written: some seconds.\n"
    )


def test_clips_that_cannot_be_counted_are_told_in_a_plan(roster):
    done = run(roster, "--dry-run", "--out", roster.parent / "new")
    assert "2 clips could not be counted beforehand" in done.stdout
    assert "About" not in done.stdout


def test_not_one_clip_that_can_be_used_is_exit_code_4_and_written(roster):
    out = roster.parent / "out"
    done = run(roster, "--workers", "1", "--out", out)
    assert done.exit_code == 4 and (out / "report.html").is_file()
    assert "Not used: a.mp4: a.mp4 is not a video" in done.stderr
    # Nothing that is shared tells where the clips lie.
    for file in (path for path in out.rglob("*") if path.is_file()):
        assert str(roster.parent).encode() not in file.read_bytes()
    assert "Too few ready positions to say anything about any of the 2 players." in done.stdout
