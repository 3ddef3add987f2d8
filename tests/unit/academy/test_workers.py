"""Jobs over several processes: a worker that dies takes no other clip with it."""

import os
import signal

import joblib
import pytest

from stance.academy import workers
from stance.academy.jobs import Job
from stance.academy.worker import WorkerResult, Workplace
from stance.academy.workers import EACH_CORE, Workers, run_jobs
from stance.errors import StanceError
from tests.unit.academy.ports import find_free_port


def die_over_one(job: Job, stored: frozenset[str], workplace: Workplace):
    """A worker whose process dies over one clip, as a fault in a decoder can make it."""
    if job.clip == "deadly.mp4":
        os.kill(os.getpid(), signal.SIGKILL)
    return WorkerResult(job, clip_sha256="0", reason="It was read.")


def test_a_worker_that_dies_takes_only_its_own_clip_with_it(monkeypatch):
    monkeypatch.setattr(workers, "analyse_job", die_over_one)
    jobs = [Job("a.mp4"), Job("deadly.mp4"), *(Job(f"{n}.mp4") for n in range(3))]
    results = {result.job: result for result in run_jobs(jobs, frozenset(), Workers(2))}
    assert set(results) == set(jobs)
    for job, result in results.items():
        assert ("died" if job.clip == "deadly.mp4" else "was read") in result.reason


def report_threads(job: Job, stored: frozenset[str], workplace: Workplace):
    return WorkerResult(
        job, reason=f"{workplace.threads} {workplace.locks is not None} {sorted(stored)}"
    )


def test_workers_share_the_cores_and_one_alone_has_them_all(monkeypatch):
    monkeypatch.setattr(workers, "analyse_job", report_threads)
    jobs = [Job("a.mp4"), Job("b.mp4")]

    def list_reasons(jobs, number):
        return {result.reason for result in run_jobs(jobs, frozenset(["k"]), Workers(number))}

    assert list_reasons(jobs, 2) == {"1 True ['k']"}
    assert list_reasons(jobs, 1) == {"None False ['k']"}
    assert list_reasons(jobs[:1], 2) == {"None False ['k']"}


def test_without_jobs_nobody_is_asked():
    scheduler = f"tcp://127.0.0.1:{find_free_port()}"
    assert list(run_jobs([], frozenset(), Workers(scheduler=scheduler))) == []


def test_processes_are_as_many_as_asked_for_or_as_cores():
    assert Workers(3).count_processes() == 3
    assert EACH_CORE.count_processes() == joblib.cpu_count()


def test_without_a_scheduler_it_says_so():
    scheduler = f"tcp://127.0.0.1:{find_free_port()}"
    with pytest.raises(StanceError, match="can't be reached"):
        list(run_jobs([Job("a.mp4")], frozenset(), Workers(scheduler=scheduler)))
