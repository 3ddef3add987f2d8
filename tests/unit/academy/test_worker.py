"""A worker analyses one clip, unless its result is stored, and never fails for the others."""

import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

from stance import analysis
from stance.academy.jobs import Job
from stance.academy.remote_files import find_version
from stance.academy.result_store import make_key
from stance.academy.worker import analyse_job
from stance.runtime.regular_files import hash_file
from tests.evaluation.screening_speed import tiny_clip
from tests.paths import ROOT


@pytest.fixture
def clip(tmp_path):
    tiny_clip(tmp_path / "empty.mp4", 1)
    return tmp_path / "empty.mp4"


def test_the_files_of_a_result_are_handed_back(clip):
    done = analyse_job(Job(str(clip)), frozenset())
    assert done.reason is None and done.seconds > 0
    assert done.clip_sha256 == hash_file(clip) and done.version == find_version(str(clip))
    assert done.key == make_key(hash_file(clip), None, None)
    assert {"result.json", "positions.csv", "report.html"} <= set(done.files)


def test_a_stored_result_is_found_by_content_and_not_by_name(clip, tmp_path):
    shutil.copy(clip, tmp_path / "renamed.mp4")
    key = make_key(hash_file(clip), None, None)
    done = analyse_job(Job(str(tmp_path / "renamed.mp4")), frozenset([key]))
    assert done.key == key and done.files == {} and done.reason is None


def test_a_clip_that_cannot_be_read_gives_a_reason(tmp_path):
    done = analyse_job(Job(str(tmp_path / "none.mp4")), frozenset())
    assert done.key is None and "There is no file" in done.reason
    (tmp_path / "broken.mp4").write_bytes(b"no video" * 100)
    broken = analyse_job(Job(str(tmp_path / "broken.mp4")), frozenset())
    assert broken.files == {} and "broken.mp4" in broken.reason


def test_a_fault_of_the_tool_becomes_a_reason(clip, monkeypatch):
    def fail(*_, **__):
        raise ZeroDivisionError("by zero")

    monkeypatch.setattr(analysis, "analyse", fail)
    done = analyse_job(Job(str(clip)), frozenset())
    assert "empty.mp4 could not be analysed; this is a fault of the tool" in done.reason
    assert "ZeroDivisionError: by zero" in done.reason


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux keeps a process to a core")
def test_each_worker_keeps_to_a_core_of_its_own_while_there_are_any(tmp_path):
    code = (
        "import os, sys; from stance.academy.worker import keep_to_a_core; "
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


@pytest.mark.parametrize("is_url", [False, True])
def test_a_reason_names_the_file_and_not_its_folder(tmp_path, is_url):
    broken = tmp_path / "Mia" / "broken.mp4"
    broken.parent.mkdir()
    broken.write_bytes(b"no video" * 100)
    done = analyse_job(Job(broken.as_uri() if is_url else str(broken)), frozenset())
    assert done.reason.startswith("broken.mp4 is not a video")


@pytest.mark.skipif(sys.platform != "linux", reason="asks /proc whether it runs")
def test_a_worker_ends_with_its_parent(tmp_path):
    worker = (
        "import sys, time; from stance.academy.worker import end_with;"
        "end_with(int(sys.argv[1])); open(sys.argv[2], 'w').close(); time.sleep(60)"
    )
    parent = (
        "import os, subprocess, sys, time;"
        "child = subprocess.Popen([sys.executable, '-c', sys.argv[1], str(os.getpid()),"
        " sys.argv[2]]); print(child.pid, flush=True); time.sleep(60)"
    )
    started = tmp_path / "started"
    with subprocess.Popen(
        [sys.executable, "-c", parent, worker, started], stdout=subprocess.PIPE, text=True
    ) as process:
        child = int(process.stdout.readline())
        wait_until(started.exists)
        process.kill()
    wait_until(lambda: not is_running(child))


def wait_until(is_so, most_s=30.0):
    end = time.monotonic() + most_s
    while not is_so():
        assert time.monotonic() < end
        time.sleep(0.1)


def is_running(process):
    """Whether a process does anything; one that nobody has asked for since its end does not."""
    try:
        state = Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()[0]
    except (FileNotFoundError, ProcessLookupError):
        return False
    return state != "Z"
