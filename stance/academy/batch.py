"""Many clips: each analysed once, and its result stored as soon as it is there.

Workers read clips by path or URL and hand the finished files back; only this process writes. So a
result is stored or not, whatever is killed when, and the next run goes on with the clips that are
not.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from stance.academy.jobs import Job, Outcome
from stance.academy.remote_files import fetch_court, find_version, is_url
from stance.academy.result_store import KnownClip, Store, make_key, name_clip
from stance.academy.worker import WorkerResult
from stance.academy.workers import EACH_CORE, Workers, run_jobs
from stance.errors import StanceError
from stance.runtime.plain_text import hide_secrets
from stance.runtime.progress import Progress, no_progress
from stance.runtime.regular_files import hash_file
from stance.types import N_

# What a worker is said to need while no result is stored: rather more than what `python -m
# tests.evaluation.screening_speed workers` prints for the sample clip (0.017 to 0.024), since most
# clips are larger, and some show two players.
ASSUMED_SECONDS_PER_FRAME = 0.03

# Before its first clip each worker loads the models and libraries; the same command prints it.
LOADING_S = 5.0


@dataclass(frozen=True)
class Plan:
    """What a run would do.

    Attributes
    ----------
    stored
        jobs whose results are stored
    to_do
        jobs to analyse
    frames
        frames of those, as far as they can be counted without fetching
    uncounted
        jobs to do whose frames are not known
    seconds_per_frame
        on one worker that has loaded all it needs
    measured
        whether that was measured on stored results
    """

    stored: tuple[Job, ...]
    to_do: tuple[Job, ...]
    frames: int
    uncounted: int
    seconds_per_frame: float
    measured: bool

    def estimate_seconds(self, processes: int) -> float:
        """How long the counted frames take over some processes."""
        return LOADING_S + self.frames * self.seconds_per_frame / processes


def analyse_jobs(
    jobs: Sequence[Job],
    store: Store,
    workers: Workers = EACH_CORE,
    progress: Progress = no_progress,
) -> dict[Job, Outcome]:
    """Analyse all clips whose results are not stored yet.

    Parameters
    ----------
    jobs
        what to analyse
    store
        where results are stored
    workers
        who does the work
    progress
        called with a stage, jobs done and jobs in all

    Returns
    -------
    dict from job to outcome, in the order of the jobs

    Raises
    ------
    OutputError
        If results can't be stored.
    StanceError
        If the scheduler can't be reached.
    """
    store.remove_unfinished()
    known = store.read_known_clips()
    stored = store.list_keys()
    outcomes: dict[Job, Outcome] = {}
    to_do = []
    for job in dict.fromkeys(jobs):
        outcome = _find_outcome(job, known.get(name_clip(job.clip)), stored, store)
        if outcome is None:
            to_do.append(job)
        else:
            outcomes[job] = outcome
    total = len(outcomes) + len(to_do)
    damaged: set[str] = set()
    # A worker takes a stored result for whole; one that then can't be read is made anew.
    for _ in range(2):
        left = [job for job in to_do if job not in outcomes]
        for result in run_jobs(left, stored - damaged, workers, store.folder):
            outcome = _store_result(result, store, known)
            if outcome.key and outcome.result is None and outcome.key not in damaged:
                damaged.add(outcome.key)
                continue
            outcomes[result.job] = outcome
            progress(N_("analysing the clips"), len(outcomes), total)
    return {job: outcomes[job] for job in jobs}


def plan_jobs(jobs: Sequence[Job], store: Store) -> Plan:
    """Find out what `analyse_jobs` would do; nothing is fetched and nothing written."""
    known, keys = store.read_known_clips(), store.list_keys()
    stored, to_do, frames, uncounted = [], [], 0, 0
    for job in dict.fromkeys(jobs):
        if _find_outcome(job, known.get(name_clip(job.clip)), keys, store) is not None:
            stored.append(job)
            continue
        counted = _count_frames(job)
        if counted is not None and counted.key in keys:
            stored.append(job)
            continue
        to_do.append(job)
        if counted is None:
            uncounted += 1
        else:
            frames += counted.frames
    measured = store.measure_seconds_per_frame()
    return Plan(
        tuple(stored),
        tuple(to_do),
        frames,
        uncounted,
        measured or ASSUMED_SECONDS_PER_FRAME,
        measured is not None,
    )


@dataclass(frozen=True)
class _CountedJob:
    """The key of a job's result, and the frames of its clip."""

    key: str
    frames: int


def _count_frames(job: Job) -> _CountedJob | None:
    """Count a clip's frames; None where that can't be done without fetching it."""
    from stance.video.probe import describe_clip

    if is_url(job.clip):
        return None
    try:
        description = describe_clip(job.clip)
        return _CountedJob(
            _make_key(job, description.sha256),
            description.packets,
        )
    except (StanceError, OSError):
        return None


def _make_key(job: Job, clip_sha256: str) -> str:
    """The key of a job's result, from the checksum of its clip."""
    court = _hash_court(job)
    return make_key(clip_sha256, court, job.hand, job.filmed_from, job.blur_faces)


def _hash_court(job: Job) -> str | None:
    """Checksum of a job's court file; None where it has none."""
    if job.court is None:
        return None
    with fetch_court(job.court) as court:
        return hash_file(court)


def _find_outcome(
    job: Job, known: KnownClip | None, stored: frozenset[str], store: Store
) -> Outcome | None:
    """The stored outcome of a job whose clip did not change since; None where there is none."""
    if known is None or known.stamp is None or known.stamp != find_version(job.clip):
        return None
    try:
        key = _make_key(job, known.sha256)
    except StanceError:
        return None
    result = store.read(key) if key in stored else None
    return None if result is None else Outcome(job, key, result)


def _store_result(result: WorkerResult, store: Store, known: dict[str, KnownClip]) -> Outcome:
    """Store what a worker handed back, and remember its clip in `known`."""
    if result.reason is not None or result.key is None or result.clip_sha256 is None:
        return Outcome(result.job, reason=result.reason and hide_secrets(result.reason))
    if result.files:
        store.save(result.key, result.files, result.seconds)
    known[name_clip(result.job.clip)] = KnownClip(result.clip_sha256, result.version)
    store.write_known_clips(known)
    return Outcome(result.job, result.key, store.read(result.key))
