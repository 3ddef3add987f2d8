"""Many clips: each analysed once, kept as soon as it is done, over several workers.

Work is spread with joblib: over processes of this machine or, with the address of a scheduler,
over Dask's workers. Workers read clips by path or URL and hand the finished files back; only this
process writes. So a result is kept or not, whatever is killed when, and the next run goes on with
the clips that are not.
"""

import os
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import joblib

from stance.academy.remote_files import file_name, is_url, local_copy, sha256, stamp
from stance.academy.result_store import Store, result_key
from stance.errors import InputError, StanceError
from stance.results.model import Result
from stance.types import Hand

Progress = Any

# What a worker is said to need while no clip is kept: rather more than what `python -m
# tests.screening_speed workers` prints for the sample clip (0.017 to 0.024), since most clips are
# larger, and some show two players.
ASSUMED_SECONDS_A_FRAME = 0.03

# Before its first clip each worker loads the models and libraries; the same command prints it.
LOADING_S = 5.0

_NO_COURT = ""

# The folder and the open lock of the core that this worker keeps to.
_core_kept: list[Any] = []


@dataclass(frozen=True)
class Job:
    """A clip to analyse: path or URL of clip and court file, and the hand where given."""

    clip: str
    court: str | None = None
    hand: Hand | None = None


@dataclass(frozen=True)
class Outcome:
    """What became of a job: a kept result, or the reason why there is none."""

    job: Job
    key: str | None
    result: Result | None
    reason: str | None


@dataclass(frozen=True)
class Plan:
    """What a run would do.

    Attributes
    ----------
    kept : jobs whose results are kept
    to_do : jobs to analyse
    frames : frames of those, as far as they can be counted without fetching
    uncounted : jobs to do whose frames are not known
    seconds_a_frame : on one worker that has loaded all it needs
    measured : whether that was measured on kept results
    """

    kept: tuple[Job, ...]
    to_do: tuple[Job, ...]
    frames: int
    uncounted: int
    seconds_a_frame: float
    measured: bool

    def seconds(self, workers: int) -> float:
        """How long the counted frames take over some workers."""
        return LOADING_S + self.frames * self.seconds_a_frame / workers


@dataclass(frozen=True)
class _Done:
    """What a worker hands back."""

    job: Job
    stamp: str | None
    sha256: str | None
    key: str | None
    files: dict[str, bytes]
    seconds: float
    reason: str | None


def run(
    jobs: Sequence[Job],
    store: Store,
    workers: int | None = None,
    scheduler: str | None = None,
    progress: Progress = None,
) -> dict[Job, Outcome]:
    """Analyse all clips that are not kept yet.

    Parameters
    ----------
    jobs : what to analyse
    store : where results are kept
    workers : processes on this machine; by default one for each core
    scheduler : address of a Dask scheduler, whose workers do the work instead
    progress : called with a stage, jobs done and jobs in all

    Returns
    -------
    dict from job to outcome, in the order of the jobs

    Raises
    ------
    OutputError
        If results can't be kept.
    StanceError
        If the scheduler can't be reached.
    """
    store.clear_parts()
    known = store.known_clips()
    outcomes: dict[Job, Outcome] = {}
    to_do = []
    kept = store.names()
    for job in dict.fromkeys(jobs):
        found = _kept(job, known, kept, store)
        if found is None:
            to_do.append(job)
        else:
            outcomes[job] = found
    total = len(outcomes) + len(to_do)
    for done in _over_workers(to_do, kept, workers, scheduler):
        outcomes[done.job] = _settled(done, store, known)
        if progress is not None:
            progress("analysing the clips", len(outcomes), total)
    return {job: outcomes[job] for job in jobs}


def plan(jobs: Sequence[Job], store: Store) -> Plan:
    """Find out what `run` would do; nothing is fetched and nothing written."""
    from stance.video.probe import describe_clip

    known, keys = store.known_clips(), store.names()
    kept, to_do, frames, uncounted = [], [], 0, 0
    for job in dict.fromkeys(jobs):
        if _kept(job, known, keys, store) is not None:
            kept.append(job)
            continue
        try:
            if is_url(job.clip):
                raise InputError("not counted")
            description = describe_clip(job.clip)
            key = result_key(description.sha256, _court_sha256(job), job.hand)
        except (StanceError, OSError):
            uncounted += 1
        else:
            if key in keys:
                kept.append(job)
                continue
            frames += description.packets
        to_do.append(job)
    measured = store.seconds_a_frame()
    return Plan(
        tuple(kept),
        tuple(to_do),
        frames,
        uncounted,
        measured or ASSUMED_SECONDS_A_FRAME,
        measured is not None,
    )


def analyse_job(
    job: Job,
    kept: frozenset[str],
    threads: int | None = None,
    locks: str | None = None,
) -> _Done:
    """Analyse one clip, unless its result is kept: what a worker does.

    Parameters
    ----------
    job : Job
    kept : names of kept results
    threads : that it may use; None for all cores
    locks : folder of the locks by which workers share the cores out; None to use any core
    """
    # Before the libraries are loaded: each starts as many threads as it sees cores.
    if locks is not None:
        keep_to_a_core(locks)
    import cv2

    from stance.analysis import analyse
    from stance.assessment.options import AnalysisOptions
    from stance.reports.writing import write_analysis

    # Idle threads of OpenCV spin for a while; with a worker on each core they are in the way.
    cv2.setNumThreads(-1 if threads is None else threads)
    begun = time.monotonic()
    mark, digest, key = stamp(job.clip), None, None
    try:
        with ExitStack() as stack:
            clip = stack.enter_context(local_copy(job.clip))
            digest = _content(clip)
            court = None if job.court is None else stack.enter_context(local_copy(job.court))
            key = result_key(digest, _NO_COURT if court is None else _content(court), job.hand)
            if key in kept:
                return _Done(job, mark, digest, key, {}, 0.0, None)
            analysis = analyse(clip, court, AnalysisOptions(hand=job.hand, workers=threads))
            folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="stance-")))
            write_analysis(analysis, clip, folder)
            files = {p.name: p.read_bytes() for p in sorted(folder.iterdir()) if p.is_file()}
    except StanceError as problem:
        return _Done(job, mark, digest, key, {}, 0.0, str(problem))
    except Exception as problem:  # one clip must not stop the others
        return _Done(
            job,
            mark,
            digest,
            key,
            {},
            0.0,
            f"{file_name(job.clip)} could not be analysed; this is a fault of the tool "
            f"({type(problem).__name__}: {problem}).",
        )
    return _Done(job, mark, digest, key, files, time.monotonic() - begun, None)


def keep_to_a_core(locks: str) -> None:
    """Keep this process to a core that no other worker has, where the system can do that.

    Two workers that may use both cores of a laptop each start threads for both and wait for one
    another: ten clips took an eighth more of the cores than with one worker. With more workers than
    cores, those that find none free use any.

    Parameters
    ----------
    locks : folder that all workers of a run can write to
    """
    if sys.platform != "linux" or locks in _core_kept:
        return
    import fcntl

    for core in sorted(os.sched_getaffinity(0)):
        lock = open(Path(locks) / str(core), "w")  # noqa: SIM115 - held as long as the worker lives
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            lock.close()
            continue
        os.sched_setaffinity(0, {core})
        _core_kept[:] = [locks, lock]
        return


def _content(file: Path) -> str:
    """Checksum of a file, or a sentence why there is none."""
    try:
        return sha256(file)
    except FileNotFoundError:
        raise InputError(f"There is no file {file}.") from None
    except OSError as problem:
        raise InputError(f"{file} can't be read: {problem.strerror}.") from None


def _court_sha256(job: Job) -> str:
    if job.court is None:
        return _NO_COURT
    with local_copy(job.court) as court:
        return _content(court)


def _kept(
    job: Job,
    known: Mapping[str, Any],
    keys: frozenset[str],
    store: Store,
) -> Outcome | None:
    """The kept outcome of a job whose clip did not change since; None where there is none."""
    entry = known.get(job.clip)
    if entry is None or entry["stamp"] is None or entry["stamp"] != stamp(job.clip):
        return None
    try:
        key = result_key(entry["sha256"], _court_sha256(job), job.hand)
    except StanceError:
        return None
    result = store.read(key) if key in keys else None
    return None if result is None else Outcome(job, key, result, None)


def _settled(done: _Done, store: Store, known: dict[str, Any]) -> Outcome:
    """Keep what a worker handed back."""
    if done.reason is not None or done.key is None:
        return Outcome(done.job, None, None, done.reason)
    if done.files:
        store.keep(done.key, done.files, done.seconds)
    known[done.job.clip] = {"stamp": done.stamp, "sha256": done.sha256}
    store.remember_clips(known)
    return Outcome(done.job, done.key, store.read(done.key), None)


def _over_workers(
    jobs: Sequence[Job],
    kept: frozenset[str],
    workers: int | None,
    scheduler: str | None,
) -> Iterator[_Done]:
    """Outcomes as they come; a worker that dies takes no other clip with it."""
    if not jobs:
        return
    left = dict.fromkeys(jobs)
    number = workers or joblib.cpu_count()
    with _backend(scheduler) as settings:
        try:
            for done in _parallel(list(left), kept, settings or {"n_jobs": number}):
                del left[done.job]
                yield done
            return
        except _worker_died():
            pass
        # Someone's process died: an unreadable clip can do that, or too little memory. Each clip
        # that is left gets a process of its own, so that only the one to blame is lost.
        for job in list(left):
            try:
                yield from _parallel([job], kept, settings or {"n_jobs": 2})
            except _worker_died():
                yield _Done(
                    job,
                    None,
                    None,
                    None,
                    {},
                    0.0,
                    f"The process that analysed {file_name(job.clip)} died, perhaps for "
                    "lack of memory or over a damaged file. Copy the clip from the phone "
                    "again, or run with --workers 1.",
                )


def _parallel(
    jobs: Sequence[Job],
    kept: frozenset[str],
    settings: Mapping[str, Any],
) -> Iterator[_Done]:
    """Run jobs over joblib's workers; yields in the order in which they end."""
    shared = settings["n_jobs"] != 1 and len(jobs) > 1
    spread = joblib.Parallel(return_as="generator_unordered", batch_size=1, **settings)
    with tempfile.TemporaryDirectory(prefix="stance-") as locks:
        yield from spread(
            joblib.delayed(analyse_job)(
                job,
                kept,
                1 if shared else None,
                locks if shared and settings["n_jobs"] > 1 else None,
            )
            for job in jobs
        )


def _worker_died() -> tuple[type[BaseException], ...]:
    """The errors that say that a worker's process is gone for good."""
    from joblib.externals.loky.process_executor import BrokenProcessPool

    try:
        from distributed import KilledWorker
    except ImportError:
        return (BrokenProcessPool,)
    return BrokenProcessPool, KilledWorker


@contextmanager
def _backend(scheduler: str | None) -> Iterator[dict[str, Any]]:
    """Settings of joblib: none for this machine, or Dask's workers while connected."""
    if scheduler is None:
        yield {}
        return
    try:
        from distributed import Client
    except ImportError:
        raise StanceError(
            "To use a scheduler, install the tool with its extra: pip install 'stance[cluster]'."
        ) from None
    try:
        client: Any = Client(scheduler, timeout="5s")  # type: ignore[no-untyped-call]
    except (OSError, ValueError, TimeoutError) as problem:
        raise StanceError(
            f"The scheduler at {scheduler} can't be reached: {problem}. Check the address, and "
            "that `dask scheduler` runs there."
        ) from None
    # Dask's backend is known to joblib only by name in its settings.
    with client, joblib.parallel_config(backend="dask"):
        if not client.scheduler_info()["workers"]:
            raise StanceError(
                f"The scheduler at {scheduler} has no workers. Start some with `dask worker "
                f"{scheduler} --nthreads 1`, where this tool is installed too."
            )
        yield {"n_jobs": -1}
