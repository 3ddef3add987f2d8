"""Many clips over real processes: stored, killed, continued, and over a real Dask scheduler."""

import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from stance.academy.result_store import Store
from stance.results.json_format import read_result
from tests.end_to_end.command import ENVIRONMENT, run_stance
from tests.evaluation.screening_speed import (
    SAMPLE,
    command,
    excerpt,
    killed_until_done,
    reports,
    tiny_clip,
)
from tests.unit.academy.ports import find_free_port


@pytest.fixture(scope="module")
def academy(tmp_path_factory):
    """A roster of a real excerpt, tiny clips without a player and a broken one; and its reports."""
    folder = tmp_path_factory.mktemp("academy")
    excerpt(folder / "excerpt.mp4", 16)
    shutil.copy(SAMPLE.with_suffix(".court.json"), folder / "court.json")
    for number in range(3):
        tiny_clip(folder / f"empty_{number}.mp4", number)
    (folder / "broken.mp4").write_bytes(b"no video" * 100)
    roster = folder / "roster.csv"
    roster.write_text(
        "player,clip,court,hand,date\nP-1,excerpt.mp4,court.json,right,2026-03-14\n"
        + "".join(f"Q-{n},empty_{n}.mp4,,,\n" for n in range(3))
        + "P-1,broken.mp4,,,\n"
    )
    run = run_stance("screen", roster, "--out", folder / "whole", "--workers", "2")
    assert run.returncode == 0, run.stderr
    return roster, folder / "whole", run


def test_one_bad_clip_does_not_stop_the_others_and_is_listed_with_its_reason(academy):
    _, whole, run = academy
    data = json.loads((whole / "screening.json").read_text())
    reasons = {Path(f["clip"]).name: f["reason"] for f in data["failed"]}
    assert set(reasons) == {"broken.mp4", *(f"empty_{n}.mp4" for n in range(3))}
    assert "No player was found" in reasons["empty_0.mp4"]
    assert "video" in reasons["broken.mp4"] and "broken.mp4" in run.stderr
    (player,) = [p for p in data["players"] if p["assessed"]]
    assert player["player"] == "P-1" and player["clips"] == ["excerpt.mp4"]
    stored = read_result(whole / player["results"][0])
    assert (stored.players[0].name, stored.date) == ("P-1", "2026-03-14")
    assert (whole / player["results"][0] / "report.html").is_file()
    assert (whole / "report.html").is_file() and len(list((whole / "players").iterdir())) == 4


def test_a_killed_run_goes_on_and_ends_with_the_same_bytes(academy, tmp_path):
    # A small version of `python -m tests.evaluation.screening_speed kills`.
    roster, whole, _ = academy
    killed, lost = killed_until_done(roster, tmp_path / "out", 2, random.Random(5), longest_s=5.0)
    assert killed >= 1 and lost == 0
    assert reports(tmp_path / "out") == reports(whole)


def test_a_second_run_analyses_nothing_and_a_dry_run_says_so(academy):
    roster, whole, _ = academy

    def list_times():
        return {p: p.stat().st_mtime_ns for p in (whole / "kept").iterdir() if p.is_dir()}

    before = list_times()
    dry = run_stance("screen", roster, "--out", whole, "--dry-run")
    assert "5 clips: 4 kept from earlier, 1 to analyse." in dry.stdout
    assert "broken.mp4" in dry.stdout
    again = run_stance("screen", roster, "--out", whole, "--workers", "2")
    assert again.returncode == 0
    assert list_times() == before


def test_a_dry_run_counts_frames_and_writes_nothing(academy, tmp_path):
    roster, _, _ = academy
    dry = run_stance("screen", roster, "--out", tmp_path / "new", "--dry-run", "--workers", "2")
    assert dry.returncode == 0 and not (tmp_path / "new").exists()
    assert "5 clips: 0 kept from earlier, 5 to analyse." in dry.stdout
    assert "with 2 workers. 25 frames at" in dry.stdout
    assert "assumed; once a clip is kept, ask again" in dry.stdout


def test_the_work_survives_a_dask_worker_killed_half_way(academy, tmp_path):
    roster, whole, _ = academy
    port = find_free_port()
    address = f"tcp://127.0.0.1:{port}"

    def start(*arguments: str) -> subprocess.Popen:
        return subprocess.Popen(
            [sys.executable, "-m", *arguments],
            env=ENVIRONMENT,
            cwd=tmp_path,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )

    scheduler = ("--host", "127.0.0.1", "--port", str(port), "--no-dashboard")
    worker = (address, "--nthreads", "1", "--no-nanny", "--no-dashboard")
    started = [start("distributed.cli.dask_scheduler", *scheduler)]
    try:
        started += [start("distributed.cli.dask_worker", *worker) for _ in range(2)]
        screening = subprocess.Popen(
            command(roster, tmp_path / "out", "--scheduler", address),
            env=ENVIRONMENT,
            stderr=subprocess.PIPE,
            text=True,
        )
        store, deadline = Store(tmp_path / "out" / "kept"), time.monotonic() + 60
        while not store.list_keys() and screening.poll() is None and time.monotonic() < deadline:
            time.sleep(0.05)
        assert screening.poll() is None, screening.stderr.read()
        os.killpg(random.Random(1).choice(started[1:]).pid, signal.SIGKILL)
        _, messages = screening.communicate(timeout=90)
        assert screening.returncode == 0, messages
        assert reports(tmp_path / "out") == reports(whole)
    finally:
        for process in started:
            if process.poll() is None:
                os.killpg(process.pid, signal.SIGKILL)
            process.wait()
