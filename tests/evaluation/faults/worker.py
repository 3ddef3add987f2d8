"""A process that runs cases: `python -m tests.evaluation.faults.worker KIND BASE PIPE`."""

import os
import random
import resource
import sys
import tempfile
import time
from contextlib import suppress
from multiprocessing.connection import Connection
from pathlib import Path

from tests.evaluation.faults.cases import Outcome, Seen, list_unfinished, name_fault
from tests.evaluation.faults.kinds import KINDS
from tests.evaluation.faults.steps import load_libraries

# A case that asks for more memory than this has a fault.
_MOST_BYTES = 8 << 30


def run_case(name: str, seed: int, base: Path) -> Outcome:
    """Run one case."""
    from stance.errors import StanceError

    with tempfile.TemporaryDirectory() as folder:
        place, seen = Path(folder), None
        start, queued, busy = time.monotonic(), _queued_s(), time.process_time()
        try:
            seen = KINDS[name].run(random.Random(f"{name} {seed}"), place, base)
            verdict = "refused" if seen is not None and seen.refused else "done"
        except StanceError:
            verdict = "refused"
        except Exception as problem:
            verdict = name_fault(problem)
        waited = time.monotonic() - start - (_queued_s() - queued)
        seconds = max(waited, time.process_time() - busy)
        if seen is None:
            seen = Seen(half_written=list_unfinished(place))
        return Outcome(verdict, seconds if seen.seconds is None else seen.seconds, seen)


def _queued_s() -> float:
    """How long this process's threads have waited for a core so far: most of it on a busy machine.

    proc(5), schedstat; nothing where the system does not tell.
    """
    whole = 0
    for file in Path("/proc/self/task").glob("*/schedstat"):
        with suppress(OSError):
            whole += int(file.read_text().split()[1])
    return whole / 1e9


def main(name: str, base: Path, pipe: Connection) -> None:
    """Run the cases whose seeds come through a pipe, until it is closed."""
    hard = resource.getrlimit(resource.RLIMIT_DATA)[1]
    resource.setrlimit(resource.RLIMIT_DATA, (_MOST_BYTES, hard))
    if "runs" not in KINDS[name].needs:
        # So that the first case is not longer than the others.
        load_libraries()
    while True:
        try:
            seed = pipe.recv()
        except EOFError:
            return
        pipe.send(run_case(name, seed, base))


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]), Connection(int(sys.argv[3])))
    # What the tool's libraries would still do at the end is nobody's business.
    os._exit(0)
