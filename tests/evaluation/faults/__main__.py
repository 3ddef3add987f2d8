"""How often faults end in a traceback, take too long, leave half a file or change a result.

Command: `python -m tests.evaluation.faults [--count N] [--seed N] [--workers N] [KIND ...]`.
Damaged inputs, page requests, kills, full disks, read-only folders, two runs on one folder, no
network, other cores. A seed and a kind repeat a case; what is printed depends on the seed alone,
but for the times. With --record a stopped command goes on with the kinds that are not done.
"""

import argparse
import collections
import dataclasses
import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.evaluation.faults import confinement
from tests.evaluation.faults.cases import Kind, Outcome
from tests.evaluation.faults.crew import run_cases
from tests.evaluation.faults.kinds import KINDS
from tests.paths import ROOT


@dataclass(frozen=True)
class Count:
    """What became of the cases of a kind; the fields are the columns of the table."""

    inputs: int
    refused: int
    faults: int
    too_long: int
    half_files: int
    stopped: int
    compared: int
    identical: int
    left_over: int
    slowest_s: float
    list_of_faults: tuple[str, ...]


def count_faults(numbers: Mapping[str, int], seed: int, workers: int = 1) -> dict[str, Count]:
    """Run so many cases of each kind."""
    with tempfile.TemporaryDirectory() as folder:
        base = Path(folder) / "base"
        _make_base(base, list(numbers))
        return {
            name: _count_kind(name, number, seed, base, workers) for name, number in numbers.items()
        }


def _share_out(names: Sequence[str], count: int) -> dict[str, int]:
    """How many cases of each kind."""
    whole = sum(KINDS[name].share for name in names)
    return {name: max(1, round(count * KINDS[name].share / whole)) for name in names}


def _make_base(base: Path, names: Sequence[str]) -> None:
    needs = sorted({need for name in names for need in KINDS[name].needs})
    command = [sys.executable, "-m", "tests.evaluation.faults.base", str(base), *needs]
    subprocess.run(command, cwd=ROOT, check=True)


def _count_kind(name: str, number: int, seed: int, base: Path, workers: int) -> Count:
    done = 0

    def report(case: int, outcome: Outcome) -> None:
        nonlocal done
        done += 1
        text = f"{name} {done} of {number}, seed {case}: {outcome.verdict}"
        print(f"{text}, {outcome.seconds:.1f} s", file=sys.stderr, flush=True)

    seeds = range(seed, seed + number)
    return summarise(KINDS[name], run_cases(name, KINDS[name], seeds, base, workers, report))


def summarise(kind: Kind, outcomes: Mapping[int, Outcome]) -> Count:
    """Count what became of the cases of a kind."""
    seen = [outcome.seen for outcome in outcomes.values()]
    wrong = {s: list(_list_wrong(kind, outcome)) for s, outcome in outcomes.items()}
    first = {text: s for s, texts in reversed(wrong.items()) for text in texts}
    times = collections.Counter(text for texts in wrong.values() for text in texts)
    return Count(
        len(outcomes),
        sum(outcome.verdict == "refused" for outcome in outcomes.values()),
        sum(outcome.verdict not in ("done", "refused") for outcome in outcomes.values()),
        sum(outcome.seconds > kind.longest_s for outcome in outcomes.values()),
        sum(len(s.half_written) for s in seen),
        sum(s.stopped for s in seen),
        sum(s.identical is not None for s in seen),
        sum(s.identical is True for s in seen),
        sum(len(s.left_over) for s in seen),
        max(outcome.seconds for outcome in outcomes.values()),
        tuple(f"{n} x {text} (first seed {first[text]})" for text, n in times.most_common()),
    )


def _list_wrong(kind: Kind, outcome: Outcome) -> list[str]:
    """What is wrong with a case, a text each."""
    seen = outcome.seen
    texts = {
        outcome.verdict: outcome.verdict not in ("done", "refused"),
        "too long": outcome.seconds > kind.longest_s,
        f"half written: {' '.join(seen.half_written)}": bool(seen.half_written),
        f"left over: {' '.join(seen.left_over)}": bool(seen.left_over),
        "not identical": seen.identical is False,
    }
    return [text for text, is_wrong in texts.items() if is_wrong]


def _print_table(counts: Mapping[str, Count]) -> None:
    for line in confinement.describe():
        print(line)
    titles = ("kind", "inputs", "refused", "tracebacks", "too long", "half files", "stopped")
    print(f"| {' | '.join((*titles, 'identical', 'left over', 'slowest'))} |")
    print("|---|---|---|---|---|---|---|---|---|---|")
    for name, count in counts.items():
        *numbers, compared, identical, left, slowest, _ = dataclasses.astuple(count)
        same = f"{identical} of {compared}" if compared else ""
        print(f"| {name} | {' | '.join(map(str, numbers))} | {same} | {left} | {slowest:.1f} s |")
    for name, count in counts.items():
        for text in count.list_of_faults:
            print(f"{name}: {text}")


def _core_s() -> float:
    """Seconds that this command's processes have spent on the cores, as far as they have ended."""
    spent = os.times()
    return spent.children_user + spent.children_system


def _read_record(file: Path | None, run: Mapping[str, Any]) -> dict[str, Count]:
    """The kinds that are done in an earlier run of the same cases."""
    if file is None or not file.exists():
        return {}
    content = json.loads(file.read_text())
    if content["run"] != run:
        raise SystemExit(f"{file} is of another run: {content['run']}")
    return {name: Count(**count) for name, count in content["counts"].items()}


def main() -> None:
    """Print the counts."""
    parser = argparse.ArgumentParser(prog="python -m tests.evaluation.faults", description=__doc__)
    parser.add_argument("kinds", nargs="*", default=[], metavar="KIND", help=", ".join(KINDS))
    parser.add_argument("--count", type=int, default=1000, help="cases in all")
    parser.add_argument("--seed", type=int, default=0, help="of the first case")
    parser.add_argument("--workers", type=int, default=1, help="processes, each on a core")
    parser.add_argument("--record", type=Path, help="file in which kinds that are done are kept")
    options = parser.parse_args()
    # So that what it made is taken away.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    names = options.kinds or list(KINDS)
    run = {"kinds": names, "count": options.count, "seed": options.seed}
    counts = _read_record(options.record, run)
    with tempfile.TemporaryDirectory() as folder:
        base = Path(folder) / "base"
        _make_base(base, [name for name in names if name not in counts])
        for name, number in _share_out(names, options.count).items():
            if name in counts:
                continue
            begun, busy = time.monotonic(), _core_s()
            counts[name] = _count_kind(name, number, options.seed, base, options.workers)
            took = f"{time.monotonic() - begun:.0f} s, {_core_s() - busy:.0f} core seconds"
            print(f"{name}: {took}", file=sys.stderr, flush=True)
            if options.record is not None:
                plain = {name: dataclasses.asdict(count) for name, count in counts.items()}
                options.record.write_text(json.dumps({"run": run, "counts": plain}))
    _print_table(counts)


if __name__ == "__main__":
    main()
