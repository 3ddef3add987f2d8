"""Many clips over real processes: kept, killed, continued, and over a real Dask scheduler."""

import functools
import http.server
import json
import os
import random
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from stance.academy import batch
from stance.academy.batch import Job, _Done, analyse_job, plan, run
from stance.academy.result_store import Store, result_key
from stance.errors import StanceError
from stance.results.json_format import read_result
from tests.end_to_end.test_cli import stance
from tests.evaluation.screening_speed import (
    ROOT,
    SAMPLE,
    command,
    excerpt,
    killed_until_done,
    reports,
    tiny_clip,
)


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
    run = stance("screen", roster, "--out", folder / "whole", "--workers", "2")
    assert run.returncode == 0, run.stderr
    return roster, folder / "whole", run


def test_one_bad_clip_does_not_stop_the_others_and_is_listed_with_its_reason(academy):
    roster, whole, done = academy
    data = json.loads((whole / "screening.json").read_text())
    reasons = {Path(f["clip"]).name: f["reason"] for f in data["failed"]}
    assert set(reasons) == {"broken.mp4", *(f"empty_{n}.mp4" for n in range(3))}
    assert "No player was found" in reasons["empty_0.mp4"]
    assert "video" in reasons["broken.mp4"] and "broken.mp4" in done.stderr
    (player,) = [p for p in data["players"] if p["assessed"]]
    assert player["player"] == "P-1" and player["clips"] == ["excerpt.mp4"]
    kept = read_result(whole / player["results"][0])
    assert (kept.players[0].name, kept.date) == ("P-1", "2026-03-14")
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
    before = {p: p.stat().st_mtime_ns for p in (whole / "kept").iterdir()}
    dry = stance("screen", roster, "--out", whole, "--dry-run")
    assert "5 clips: 4 kept from earlier, 1 to analyse." in dry.stdout
    assert "broken.mp4" in dry.stdout
    again = stance("screen", roster, "--out", whole, "--workers", "2")
    assert again.returncode == 0
    assert {p: p.stat().st_mtime_ns for p in (whole / "kept").iterdir() if p.is_dir()} == {
        p: t for p, t in before.items() if p.is_dir()
    }


def test_a_dry_run_counts_frames_and_writes_nothing(academy, tmp_path):
    roster, _, _ = academy
    dry = stance("screen", roster, "--out", tmp_path / "new", "--dry-run", "--workers", "2")
    assert dry.returncode == 0 and not (tmp_path / "new").exists()
    assert "5 clips: 0 kept from earlier, 5 to analyse." in dry.stdout
    assert "with 2 workers for 25 frames of 4 clips" in dry.stdout
    assert "assumed; once a clip is kept, ask again" in dry.stdout


def test_a_roster_with_mistakes_starts_nothing(academy, tmp_path):
    roster, _, _ = academy
    wrong = roster.with_name("wrong.csv")
    wrong.write_text("player,clip\n,none.mp4\n")
    done = stance("screen", wrong, "--out", tmp_path / "new")
    assert done.returncode == 3 and not (tmp_path / "new").exists()
    assert "line 2: no player is named" in done.stderr
    assert "line 2: there is no clip" in done.stderr


def test_results_are_found_by_content_and_not_by_name(academy, tmp_path):
    roster, whole, _ = academy
    store = Store(whole / "kept")
    shutil.copy(roster.parent / "empty_0.mp4", tmp_path / "renamed.mp4")
    renamed = Job(str(tmp_path / "renamed.mp4"))
    assert plan([renamed], store).kept == (renamed,)
    done = analyse_job(renamed, store.names())
    assert done.key in store.names() and done.files == {}
    # Another hand or court is other content.
    assert (
        len(
            {
                result_key("a", "", None),
                result_key("a", "", "left"),
                result_key("a", "b", None),
                result_key("c", "", None),
            }
        )
        == 4
    )


def test_a_result_cut_off_by_a_power_cut_is_not_taken_for_kept(tmp_path):
    store = Store(tmp_path)
    store.keep("one", {"result.json": b'{"schema": 1}\n'}, 1.0)
    store.keep("two", {"result.json": b'{"sche'}, 1.0)
    (tmp_path / ".three.1.part").mkdir()
    assert store.names() == {"one"}
    store.clear_parts()
    assert not list(tmp_path.glob(".*"))


def test_clips_come_by_url_as_well(academy, tmp_path):
    folder = academy[0].parent
    handler = functools.partial(http.server.SimpleHTTPRequestHandler, directory=str(folder))
    handler.log_message = lambda *_: None
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        base = f"http://127.0.0.1:{server.server_port}"
        jobs = [
            Job(f"{base}/empty_0.mp4"),
            Job(f"{base}/none.mp4"),
            Job((folder / "empty_1.mp4").as_uri()),
        ]
        outcomes = run(jobs, Store(tmp_path / "kept"), workers=1)
        assert outcomes[jobs[0]].result.clip.file == "empty_0.mp4"
        assert outcomes[jobs[0]].key in Store(academy[1] / "kept").names()
        assert "none.mp4" in outcomes[jobs[1]].reason
        assert outcomes[jobs[2]].result.clip.file == "empty_1.mp4"
    finally:
        server.shutdown()


def dying_job(job: Job, kept: frozenset[str], threads: int | None, locks: str | None):
    """A worker whose process dies over one clip, as a fault in a decoder can make it."""
    if job.clip == "deadly.mp4":
        os.kill(os.getpid(), signal.SIGKILL)
    return _Done(job, None, "0", None, {}, 0.0, "It was read.")


def test_a_worker_that_dies_takes_only_its_own_clip_with_it(monkeypatch, tmp_path):
    monkeypatch.setattr(batch, "analyse_job", dying_job)
    jobs = [Job("a.mp4"), Job("deadly.mp4"), *(Job(f"{n}.mp4") for n in range(3))]
    outcomes = run(jobs, Store(tmp_path), workers=2)
    assert list(outcomes) == jobs
    for job, outcome in outcomes.items():
        assert ("died" if job.clip == "deadly.mp4" else "was read") in outcome.reason


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux keeps a process to a core")
def test_each_worker_keeps_to_a_core_of_its_own_while_there_are_any(tmp_path):
    code = (
        "import os, sys; from stance.academy.batch import keep_to_a_core; "
        "keep_to_a_core(sys.argv[1]); print(*os.sched_getaffinity(0), flush=True); "
        "sys.stdin.read()"
    )
    every = os.sched_getaffinity(0)
    workers = [
        subprocess.Popen(
            [sys.executable, "-c", code, tmp_path],
            cwd=ROOT,
            text=True,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
        )
        for _ in range(len(every) + 1)
    ]
    cores = [worker.stdout.readline().split() for worker in workers]
    for worker in workers:
        worker.communicate()
    alone = [core for core in cores if len(core) == 1]
    if len(every) > 1:
        assert sorted(int(core) for (core,) in alone) == sorted(every)
        assert [len(core) for core in cores if len(core) > 1] == [len(every)]


def test_without_a_scheduler_it_says_so(tmp_path):
    with pytest.raises(StanceError, match="can't be reached"):
        run([Job("a.mp4")], Store(tmp_path), scheduler=f"tcp://127.0.0.1:{free_port()}")


def free_port() -> int:
    """A port that nothing listens on."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return one.getsockname()[1]


def test_the_work_survives_a_dask_worker_killed_half_way(academy, tmp_path):
    roster, whole, _ = academy
    port, environment = free_port(), os.environ | {"PYTHONPATH": str(ROOT)}
    address = f"tcp://127.0.0.1:{port}"

    def start(*arguments: str) -> subprocess.Popen:
        return subprocess.Popen(
            [sys.executable, "-m", *arguments],
            env=environment,
            cwd=tmp_path,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )

    started = [
        start(
            "distributed.cli.dask_scheduler",
            "--host",
            "127.0.0.1",
            "--port",
            str(port),
            "--no-dashboard",
        )
    ]
    try:
        for _ in range(2):
            started.append(
                start(
                    "distributed.cli.dask_worker",
                    address,
                    "--nthreads",
                    "1",
                    "--no-nanny",
                    "--no-dashboard",
                )
            )
        screening = subprocess.Popen(
            command(roster, tmp_path / "out", "--scheduler", address),
            env=environment,
            stderr=subprocess.PIPE,
            text=True,
        )
        kept, deadline = Store(tmp_path / "out" / "kept"), time.monotonic() + 60
        while not kept.names() and screening.poll() is None and time.monotonic() < deadline:
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
