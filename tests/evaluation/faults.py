"""How often damaged inputs end in a traceback, take too long or leave half a file.

Command: `python -m tests.evaluation.faults [--count N] [--seed N] [KIND ...]`. Each case runs in a
process that is killed when it hangs. Kinds: clips, gaps, courts, rosters, kept, names.
"""

import argparse
import collections
import json
import multiprocessing
import random
import shutil
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from tests.evaluation import damage
from tests.paths import SAMPLE_CLIPS

CLIP = SAMPLE_CLIPS / "rear_corner_rally.mp4"
COURT = SAMPLE_CLIPS / "rear_corner_rally.court.json"

# A case may take so long, seconds; clips last two.
LONGEST_S = 20.0
# A process that does not answer is waited for so long, so that the time can be told.
GIVEN_UP_S = 60.0

# Relative numbers of cases; a clip takes seconds, the others hardly any time.
SHARES = {"clips": 5, "gaps": 1, "courts": 30, "rosters": 30, "kept": 30, "names": 10}


@dataclass
class Count:
    """What became of the cases of a kind."""

    cases: int = 0
    refused: int = 0
    tracebacks: int = 0
    hangs: int = 0
    half_written: int = 0
    slowest_s: float = 0.0
    faults: collections.Counter[str] = field(default_factory=collections.Counter)


@dataclass(frozen=True)
class Outcome:
    """One case: "done", "refused" or the last line of a traceback, and what else was seen."""

    verdict: str
    half_written: int
    seconds: float


def try_clip(draw: random.Random, place: Path, base: Path) -> None:
    """Analyse a damaged clip."""
    clip = place / "clip.mp4"
    clip.write_bytes(damage.flip_bytes(draw, (base / "short.mp4").read_bytes()))
    _analyse(clip, place / "out")


def try_gaps(draw: random.Random, place: Path, base: Path) -> None:
    """Analyse a clip in which pictures are missing."""
    damage.drop_pictures(draw, base / "short.mp4", place / "clip.mp4")
    _analyse(place / "clip.mp4", place / "out")


def try_court(draw: random.Random, place: Path, base: Path) -> None:
    """Read and calibrate a damaged court file."""
    from stance.court.calibration import calibrate
    from stance.court.court_file import read_court_file

    file = place / "x.court.json"
    content = json.loads(COURT.read_text())
    content["points"] = draw.sample(content["points"], 6)
    text = damage.change_json(draw, json.dumps(content))
    file.write_text(text, encoding="utf-8", errors="surrogatepass")
    calibrate(read_court_file(file))


def try_roster(draw: random.Random, place: Path, base: Path) -> None:
    """Read a damaged roster."""
    from stance.academy.roster import read_roster

    (place / "a.mp4").touch()
    text = (
        "player,clip,court,hand,age_group,date,session,letter\n"
        "J-07,a.mp4,,right,U13,2026-03-09,week 3,A\n"
        "J-08,a.mp4,,left,U13,2026-03-09,week 3,B\n"
    )
    (place / "roster.csv").write_bytes(damage.change_roster(draw, text))
    read_roster(place / "roster.csv")


def try_kept(draw: random.Random, place: Path, base: Path) -> None:
    """List and compare a folder in which one kept file is damaged; the rest must be listed."""
    from stance.academy.result_store import Store
    from stance.watching.pose_cache import read_poses

    folder = place / "results"
    shutil.copytree(base / "results", folder)
    file = draw.choice(sorted(path for path in folder.rglob("*") if path.is_file()))
    if file.suffix == ".json" and draw.random() < 0.7:
        text = damage.change_json(draw, file.read_text(encoding="utf-8"))
        file.write_text(text, encoding="utf-8", errors="surrogatepass")
    else:
        file.write_bytes(damage.flip_bytes(draw, file.read_bytes()))
    _run("history", folder)
    _run("compare", "--history", folder, "--split", "2026-02-15", "--out", place / "out")
    store = Store(folder)
    store.measure_seconds_per_frame()
    store.read_known_clips()
    read_poses(folder / "poses.npz", "key")


def try_name(draw: random.Random, place: Path, base: Path) -> None:
    """Label, write and list a result with a nasty name and session."""
    from dataclasses import replace

    from stance.academy.writing import write_screening
    from stance.assessment.labels import label_result
    from stance.results.json_format import read_result
    from stance.results.writing import write_result
    from tests.unit.academy.invented_academy import screen_invented

    name, session = damage.draw_name(draw), damage.draw_name(draw)
    result = read_result(base / "results" / "J-1_2026-01-10")
    result = replace(result, date="2026-01-10")
    write_result(label_result(result, {"A": name}, result.date, session), place / "out")
    _run("history", place, "--json")
    _run("history", place, "--player", name)
    _run("forget", place, "--player", name, "--yes")
    from stance.runtime.plain_text import clean_name

    if clean_name(name):
        write_screening(screen_invented({clean_name(name): [(2, 5, "")]}), place / "out")


KINDS: dict[str, Callable[[random.Random, Path, Path], None]] = {
    "clips": try_clip,
    "gaps": try_gaps,
    "courts": try_court,
    "rosters": try_roster,
    "kept": try_kept,
    "names": try_name,
}


def count_faults(kinds: Sequence[str], count: int, seed: int) -> dict[str, Count]:
    """Run cases of some kinds, `count` in all, each in a process that can be killed."""
    whole = sum(SHARES[kind] for kind in kinds)
    counts = {}
    with tempfile.TemporaryDirectory() as folder:
        base = Path(folder)
        _make_base(base, any(kind in ("clips", "gaps") for kind in kinds))
        for kind in kinds:
            cases = range(seed, seed + max(1, round(count * SHARES[kind] / whole)))
            counts[kind] = _run_cases(kind, cases, base)
    return counts


def _run_cases(kind: str, seeds: Sequence[int], base: Path) -> Count:
    total = Count()
    context = multiprocessing.get_context("spawn")
    process, ours = None, None
    for seed in seeds:
        if process is None or ours is None:
            ours, theirs = context.Pipe()
            process = context.Process(target=_work, args=(theirs, kind, base), daemon=True)
            process.start()
            theirs.close()
        total.cases += 1
        try:
            ours.send(seed)
            outcome = ours.recv() if ours.poll(GIVEN_UP_S) else None
        except (EOFError, OSError):
            outcome = Outcome("the process died", 0, 0.0)
        if outcome is None or outcome.verdict == "the process died":
            process.kill()
            process.join()
            process = None
        _add(total, seed, outcome)
        print(f"{kind} {total.cases} of {len(seeds)}: {_describe(outcome)}", file=sys.stderr)
    if process is not None:
        process.kill()
    return total


def _describe(outcome: Outcome | None) -> str:
    return "given up" if outcome is None else f"{outcome.verdict}, {outcome.seconds:.1f} s"


def _add(total: Count, seed: int, outcome: Outcome | None) -> None:
    """Count a case; None is one that was given up."""
    if outcome is None or outcome.seconds > LONGEST_S:
        total.hangs += 1
        total.faults[f"too long (seed {seed})"] += 1
    if outcome is None:
        total.slowest_s = GIVEN_UP_S
        return
    total.slowest_s = max(total.slowest_s, outcome.seconds)
    total.half_written += outcome.half_written
    if outcome.verdict == "refused":
        total.refused += 1
    elif outcome.verdict != "done":
        total.tracebacks += 1
        total.faults[f"{outcome.verdict} (first seed {seed})"] += 1


def _work(pipe: Connection, kind: str, base: Path) -> None:
    """Run the cases whose seeds come through a pipe."""
    while True:
        pipe.send(_run_case(kind, pipe.recv(), base))


def _run_case(kind: str, seed: int, base: Path) -> Outcome:
    from stance.errors import StanceError

    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        start = time.monotonic()
        try:
            KINDS[kind](random.Random(f"{kind} {seed}"), place, base)
            verdict = "done"
        except StanceError:
            verdict = "refused"
        except Exception as problem:
            frame = traceback.extract_tb(problem.__traceback__)[-1]
            verdict = f"{type(problem).__name__} in {Path(frame.filename).name}:{frame.lineno}"
        seconds = time.monotonic() - start
        half = sum(path.name.endswith((".part", ".html.part")) for path in place.rglob("*"))
        return Outcome(verdict, half, seconds)


def _make_base(base: Path, with_clip: bool) -> None:
    """What the cases damage."""
    from stance.academy.result_store import Store
    from stance.comparison.history import list_entries
    from stance.watching.pose_cache import write_poses
    from tests.unit.invented_history import write_history
    from tests.unit.watching.test_pose_cache import seen_in_a_clip

    folder = write_history(base / "results")
    shutil.rmtree(folder / ".part")
    list_entries(folder)
    write_poses(folder / "poses.npz", "key", seen_in_a_clip(2))
    Store(folder).write_known_clips({})
    if with_clip:
        damage.cut_clip(CLIP, base / "short.mp4", 2.0)


def _analyse(clip: Path, out: Path) -> None:
    from stance.analysis import analyse
    from stance.reports.writing import write_analysis

    write_analysis(analyse(clip), clip, out, overlay=True)


def _run(*arguments: Any) -> None:
    """Run a command; its faults are raised."""
    from typer.testing import CliRunner

    from stance.cli.app import app

    done = CliRunner().invoke(app, [str(argument) for argument in arguments])
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception


def main() -> None:
    """Print the counts."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("kinds", nargs="*", default=[], metavar="KIND", help=", ".join(KINDS))
    parser.add_argument("--count", type=int, default=1000, help="cases in all")
    parser.add_argument("--seed", type=int, default=0, help="of the first case")
    arguments = parser.parse_args()
    counts = count_faults(arguments.kinds or list(KINDS), arguments.count, arguments.seed)
    print("kind      cases  refused  tracebacks  too long  half files  slowest")
    for kind, count in counts.items():
        print(
            f"{kind:8} {count.cases:6} {count.refused:8} {count.tracebacks:11} {count.hangs:9} "
            f"{count.half_written:11} {count.slowest_s:6.1f} s"
        )
    for kind, count in counts.items():
        for fault, times in count.faults.most_common():
            print(f"{kind}: {times} x {fault}")


if __name__ == "__main__":
    main()
