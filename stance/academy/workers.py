"""Jobs over several workers: processes of this machine, or Dask's workers, by joblib."""

import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import joblib

from stance.academy.jobs import Job
from stance.academy.remote_files import file_name
from stance.academy.worker import WorkerResult, Workplace, analyse_job
from stance.errors import StanceError
from stance.results.temporary import temporary_folder
from stance.runtime.language import gettext as _


@dataclass(frozen=True)
class Workers:
    """Who does the work.

    Attributes
    ----------
    number
        of processes on this machine; None for one for each core
    scheduler
        address of a Dask scheduler, whose workers do the work instead; None for none
    """

    number: int | None = None
    scheduler: str | None = None

    def count_processes(self) -> int:
        """How many processes of this machine are to work."""
        return self.number or joblib.cpu_count()


EACH_CORE = Workers()


def run_jobs(
    jobs: Sequence[Job], stored: frozenset[str], workers: Workers, place: Path | None = None
) -> Iterator[WorkerResult]:
    """Analyse clips; a worker that dies takes no other clip with it.

    Parameters
    ----------
    jobs
        each once
    stored
        keys of stored results
    workers
        who does the work
    place
        folder for the temporary files of workers on this machine; None for the system's own

    Yields
    ------
    WorkerResult
        As they come, in any order.

    Raises
    ------
    StanceError
        If the scheduler can't be reached or has no workers.
    """
    if not jobs:
        return
    left = dict.fromkeys(jobs)
    with _connect(workers.scheduler) as settings:
        try:
            crew = settings or {"n_jobs": workers.count_processes()}
            for result in _run_in_parallel(list(left), stored, crew, place):
                del left[result.job]
                yield result
            return
        except _death_errors():
            pass
        # Someone's process died: an unreadable clip can do that, or too little memory. Each clip
        # that is left gets a process of its own, so that only the one to blame is lost.
        for job in list(left):
            try:
                yield from _run_in_parallel([job], stored, settings or {"n_jobs": 2}, place)
            except _death_errors():
                reason = _(
                    "The process that analysed {clip} died, perhaps for lack of memory or over a "
                    "damaged file. Copy the clip from the phone again, or run with --workers 1."
                ).format(clip=file_name(job.clip))
                yield WorkerResult(job, reason=reason)


def _run_in_parallel(
    jobs: Sequence[Job],
    stored: frozenset[str],
    settings: Mapping[str, Any],
    place: Path | None,
) -> Iterator[WorkerResult]:
    """Run jobs over joblib's workers; yields in the order in which they end."""
    shared = settings["n_jobs"] != 1 and len(jobs) > 1
    is_here = settings["n_jobs"] > 0
    with temporary_folder(place) as folder:
        # Nothing is handed over through files in memory, which a killed run would leave there.
        parallel = joblib.Parallel(
            return_as="generator_unordered",
            batch_size=1,
            max_nbytes=None,
            temp_folder=str(folder),
            **settings,
        )
        workplace = Workplace(
            1 if shared else None,
            str(folder) if shared and is_here else None,
            str(folder) if is_here else None,
            os.getpid() if is_here else None,
        )
        try:
            yield from parallel(joblib.delayed(analyse_job)(job, stored, workplace) for job in jobs)
        finally:
            if shared and is_here:
                _end_workers()


def _end_workers() -> None:
    """End joblib's workers, which it would keep, with the semaphores shared with them.

    So there are semaphores only while there is the folder that tells the next start whose they are.
    """
    from joblib.externals.loky import get_reusable_executor

    get_reusable_executor().shutdown(kill_workers=True)


def _death_errors() -> tuple[type[BaseException], ...]:
    """The errors that say that a worker's process is gone for good."""
    from joblib.externals.loky.process_executor import BrokenProcessPool

    try:
        from distributed import KilledWorker
    except ImportError:
        return (BrokenProcessPool,)
    return BrokenProcessPool, KilledWorker


@contextmanager
def _connect(scheduler: str | None) -> Iterator[dict[str, Any]]:
    """Settings of joblib: none for this machine, or Dask's workers while connected."""
    if scheduler is None:
        yield {}
        return
    try:
        from distributed import Client
    except ImportError:
        raise StanceError(
            _("To use a scheduler, install the tool with its extra: pip install 'stance[cluster]'.")
        ) from None
    try:
        client: Any = Client(scheduler, timeout="5s")  # type: ignore[no-untyped-call]
    except (OSError, ValueError, TimeoutError) as problem:
        raise StanceError(
            _(
                "The scheduler at {scheduler} can't be reached: {problem}. Check the address, "
                "and that `dask scheduler` runs there."
            ).format(scheduler=scheduler, problem=problem)
        ) from None
    # Dask's backend is known to joblib only by name in its settings.
    with client, joblib.parallel_config(backend="dask"):
        if not client.scheduler_info()["workers"]:
            raise StanceError(
                _(
                    "The scheduler at {scheduler} has no workers. Start some with `dask worker "
                    "{scheduler} --nthreads 1`, where this tool is installed too."
                ).format(scheduler=scheduler)
            )
        yield {"n_jobs": -1}
