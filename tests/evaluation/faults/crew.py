"""Worker processes that run the cases of a kind, and are killed where a case hangs."""

import multiprocessing
import os
import subprocess
import sys
import time
from collections import deque
from collections.abc import Callable, Iterable
from multiprocessing.connection import wait
from pathlib import Path

from tests.evaluation.faults import confinement
from tests.evaluation.faults.cases import Kind, Outcome
from tests.paths import ROOT

GIVEN_UP = "given up"

# A process that is not at a case ends so soon.
_ENDING_S = 5.0


def run_cases(
    name: str,
    kind: Kind,
    seeds: Iterable[int],
    base: Path,
    workers: int,
    report: Callable[[int, Outcome], None],
) -> dict[int, Outcome]:
    """Run cases over some workers, each on a core of its own.

    Parameters
    ----------
    name, kind
        of the cases
    seeds
        one a case
    base
        folder of what they share
    workers
        how many at most
    report
        told each case as it ends

    Returns
    -------
    the outcome of each seed, in the order of the seeds
    """
    left, outcomes = deque(seeds), dict[int, Outcome]()
    order = list(left)
    crew = [_Worker(name, kind, base, core) for core in range(min(workers, len(left)))]
    try:
        _run(crew, left, outcomes, report)
    finally:
        for worker in crew:
            worker.end()
    return {seed: outcomes[seed] for seed in order}


def _run(
    crew: "list[_Worker]",
    left: "deque[int]",
    outcomes: dict[int, Outcome],
    report: Callable[[int, Outcome], None],
) -> None:
    """Hand out cases until all are done."""
    for worker in crew:
        worker.take(left)
    while busy := [worker for worker in crew if worker.seed is not None]:
        ready = wait([worker.pipe for worker in busy], 0.2)
        for worker in busy:
            outcome = worker.answer(worker.pipe in ready)
            if outcome is not None:
                assert worker.seed is not None
                outcomes[worker.seed] = outcome
                report(worker.seed, outcome)
                worker.take(left)


class _Worker:
    """A process, the pipe to it, and the seed of the case that it is at."""

    def __init__(self, name: str, kind: Kind, base: Path, core: int) -> None:
        self._name, self._kind, self._base, self._core = name, kind, base, core
        self.seed: int | None = None
        self._start()

    def take(self, left: "deque[int]") -> None:
        """Take up the next case, where there is one."""
        self.seed = left.popleft() if left else None
        if self.seed is not None:
            self._end = time.monotonic() + self._kind.given_up_s
            self.pipe.send(self.seed)

    def answer(self, ready: bool) -> Outcome | None:
        """What became of the case; None where that is not known yet."""
        if ready:
            try:
                outcome: Outcome = self.pipe.recv()
                return outcome
            except (EOFError, OSError):
                self._restart()
                return Outcome("the process died")
        if time.monotonic() < self._end:
            return None
        self._restart()
        return Outcome(GIVEN_UP, self._kind.given_up_s)

    def end(self) -> None:
        """End the process."""
        self.pipe.close()
        try:
            # By itself, so that what it has spent is counted with what its own processes have.
            self._process.wait(_ENDING_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()

    def _restart(self) -> None:
        self._process.kill()
        self.end()
        self._start()

    def _start(self) -> None:
        self.pipe, theirs = multiprocessing.Pipe()
        own = self._kind.own_mounts and confinement.is_permitted(confinement.OWN_MOUNTS)
        every = sorted(os.sched_getaffinity(0))
        os.sched_setaffinity(0, {every[self._core % len(every)]})
        module = "tests.evaluation.faults.worker"
        place = [self._name, str(self._base), str(theirs.fileno())]
        try:
            self._process = subprocess.Popen(
                [*(confinement.OWN_MOUNTS if own else ()), sys.executable, "-m", module, *place],
                cwd=ROOT,
                pass_fds=[theirs.fileno()],
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )
        finally:
            os.sched_setaffinity(0, every)
            theirs.close()
