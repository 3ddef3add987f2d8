"""What a worker does: one clip, from its address to the files of its result."""

import os
import sys
import threading
import time
from collections.abc import Mapping
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from stance.academy.jobs import Job
from stance.academy.remote_files import fetch_clip, fetch_court, file_name, find_version
from stance.academy.result_store import make_key
from stance.errors import StanceError
from stance.results.temporary import sweep_leftovers, temporary_folder
from stance.runtime.language import gettext as _
from stance.runtime.regular_files import hash_file

# The folder and the open lock of the core that this worker keeps to.
_locked_core: list[Any] = []

# The process with which this worker ends.
_watched_parent: list[int] = []

# How often it is looked for, seconds.
_LOOK_S = 0.5


@dataclass(frozen=True)
class WorkerResult:
    """What a worker hands back.

    Attributes
    ----------
    job
        what was to be done
    version
        of the clip, `find_version`
    clip_sha256, key
        where the clip could be read
    files
        of the result, name to content; empty where it is stored already or there is none
    seconds
        that the analysis took
    reason
        a sentence why there is no result; None where there is one
    """

    job: Job
    version: str | None = None
    clip_sha256: str | None = None
    key: str | None = None
    files: dict[str, bytes] = field(default_factory=dict)
    seconds: float = 0.0
    reason: str | None = None


@dataclass(frozen=True)
class Workplace:
    """Where a worker works.

    Attributes
    ----------
    threads
        that it may use; None for all cores
    locks
        folder of the locks by which workers share the cores out; None to use any core
    temporary
        folder for temporary files; None for the system's own
    parent
        process with which the worker ends; None where it ends by itself
    """

    threads: int | None = None
    locks: str | None = None
    temporary: str | None = None
    parent: int | None = None


ALONE = Workplace()


def analyse_job(job: Job, stored: frozenset[str], workplace: Workplace = ALONE) -> WorkerResult:
    """Analyse one clip, unless its result is stored.

    Parameters
    ----------
    job
        the clip to analyse
    stored
        keys of stored results
    workplace
        where to work
    """
    _settle(workplace)
    from stance.analysis import analyse
    from stance.assessment.options import AnalysisOptions
    from stance.reports.writing import write_analysis

    place = None if workplace.temporary is None else Path(workplace.temporary)
    start = time.monotonic()
    version, digest, key = find_version(job.clip), None, None
    # What is said of a clip is shared; where it lies is not.
    names = {path: file_name(path) for path in (job.clip, job.court) if path}
    try:
        with ExitStack() as stack:
            clip = stack.enter_context(fetch_clip(job.clip, place))
            names[str(clip)] = file_name(job.clip)
            digest = hash_file(clip)
            court = (
                None if job.court is None else stack.enter_context(fetch_court(job.court, place))
            )
            court_digest = None if court is None else hash_file(court)
            key = make_key(digest, court_digest, job.hand, job.filmed_from, job.blur_faces)
            if key in stored:
                return WorkerResult(job, version, digest, key)
            options = AnalysisOptions(
                hand=job.hand,
                filmed_from=job.filmed_from,
                workers=workplace.threads,
                blur_faces=job.blur_faces,
            )
            analysis = analyse(clip, court, options)
            folder = stack.enter_context(temporary_folder(place))
            write_analysis(analysis, clip, folder)
            files = {p.name: p.read_bytes() for p in sorted(folder.iterdir()) if p.is_file()}
    except StanceError as problem:
        return WorkerResult(job, version, digest, key, reason=_share(str(problem), names))
    except Exception as problem:  # one clip must not stop the others
        reason = _(
            "{clip} could not be analysed; this is a fault of the tool ({kind}: {problem})."
        ).format(clip=file_name(job.clip), kind=type(problem).__name__, problem=problem)
        return WorkerResult(job, version, digest, key, reason=_share(reason, names))
    return WorkerResult(job, version, digest, key, files, time.monotonic() - start)


def _settle(workplace: Workplace) -> None:
    """Fit this process to its workplace."""
    # Before the libraries are loaded: each starts as many threads as it sees cores.
    if workplace.locks is not None:
        keep_to_a_core(workplace.locks)
    if workplace.parent is not None:
        end_with(workplace.parent)
    if workplace.temporary is None:
        sweep_leftovers()
    import cv2

    # Idle threads of OpenCV spin for a while; with a worker on each core they are in the way.
    cv2.setNumThreads(-1 if workplace.threads is None else workplace.threads)


def _share(reason: str, names: Mapping[str, str]) -> str:
    """A sentence with names of files in place of their paths, the longest first."""
    for path in sorted(names, key=len, reverse=True):
        reason = reason.replace(path, names[path])
    return reason


def end_with(parent: int) -> None:
    """End this process soon after another one has, whatever it is at.

    Whoever loses the process that waits for its result, to a kill say, works on for nobody.

    Parameters
    ----------
    parent
        number of the process that started this one
    """
    if sys.platform == "win32" or _watched_parent or os.getpid() == parent:
        return
    _watched_parent.append(parent)

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(_LOOK_S)
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


def keep_to_a_core(locks: str) -> None:
    """Keep this process to a core that no other worker has, where the system can do that.

    Two workers that may use both cores of a laptop each start threads for both and wait for one
    another: ten clips took an eighth more of the cores than with one worker. With more workers than
    cores, those that find none free use any.

    Parameters
    ----------
    locks
        folder that all workers of a run can write to
    """
    if sys.platform != "linux" or locks in _locked_core:
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
        _locked_core[:] = [locks, lock]
        return
