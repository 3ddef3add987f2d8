"""Steps of the tool that write, each in a process forked for it: stopped, in twos, short of room.

A forked process has all libraries loaded, so that a step takes a fraction of a second and most of
that is the writing. What each step writes when left in peace is kept beside the base.
"""

import importlib
import os
import shutil
import signal
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tests.evaluation.faults.cases import Fault, list_unfinished, name_fault, read_tree

# Made anew at each start, or different from run to run since they hold how long something took.
BESIDE = ("history.sqlite", "took.json", "clips.json")

REFUSED = 3
_STOPPED = 130
_FAULT = 99


@dataclass(frozen=True)
class Step:
    """A step that writes: what its folder begins with, of the base, and what is run."""

    start: str
    run: Callable[[Path, Path], int]


def run_command(*arguments: object) -> int:
    """Run a command of the tool in this process; its exit code. Faults are raised."""
    from typer.testing import CliRunner

    from stance.cli.app import app

    done = CliRunner().invoke(app, [str(argument) for argument in arguments])
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    for words in ("fault of the tool", "Traceback (most"):
        if words in done.output:
            raise Fault(f"it says: {done.output[done.output.index(words) :][:200]}")
    return done.exit_code


def _analyse(folder: Path, base: Path) -> int:
    return run_command("analyse", base / "short.mp4", "--out", folder)


def _keep_poses(folder: Path, base: Path) -> int:
    """Analyse through the library, with poses kept elsewhere."""
    from stance.analysis import analyse
    from stance.assessment.options import AnalysisOptions
    from stance.errors import StanceError
    from stance.reports.writing import write_analysis

    clip = base / "short.mp4"
    try:
        kept = AnalysisOptions(cache_folder=base / "poses")
        write_analysis(analyse(clip, options=kept), clip, folder)
    except StanceError:
        return REFUSED
    return 0


def _screen(folder: Path, base: Path) -> int:
    return run_command("screen", base / "academy" / "roster.csv", "--out", folder)


def _compare(folder: Path, base: Path) -> int:
    split = ("--split", "2026-02-15")
    return run_command("compare", "--history", folder, *split, "--out", folder / "comparison")


def _history(folder: Path, base: Path) -> int:
    return run_command("history", folder)


def _forget(folder: Path, base: Path) -> int:
    return run_command("forget", folder, "--player", "J-1", "--yes")


STEPS = {
    "analyse": Step("poses", _analyse),
    "keep poses": Step("", _keep_poses),
    "screen": Step("kept", _screen),
    "compare": Step("results", _compare),
    "history": Step("results", _history),
    "forget": Step("results", _forget),
}


def load_libraries() -> None:
    """Load what the steps need, so that a forked process need not."""
    for name in (
        "academy.screen",
        "academy.writing",
        "analysis",
        "cli.app",
        "comparison.compare",
        "comparison.writing",
        "reports.overlay",
    ):
        importlib.import_module(f"stance.{name}")


def prepare_folder(step: Step, folder: Path, base: Path) -> None:
    """Make the folder with which a step begins."""
    if step.start:
        shutil.copytree(base / step.start, folder, dirs_exist_ok=True)
    else:
        folder.mkdir(exist_ok=True)


@dataclass(frozen=True)
class Running:
    """A forked process, and the pipe through which it says what went wrong."""

    process: int
    notes: int


def start_step(step: Step, folder: Path, base: Path, wait_s: float = 0.0) -> Running:
    """Fork a process for a step, which waits a while first."""
    ours, theirs = os.pipe()
    process = os.fork()
    if process:
        os.close(theirs)
        return Running(process, ours)
    code = _FAULT
    try:
        time.sleep(wait_s)
        code = step.run(folder, base)
    except BaseException as problem:
        os.write(theirs, name_fault(problem).encode(errors="replace")[:4000])
    finally:
        os._exit(code)


def wait_for(running: Running, longest_s: float = 200.0) -> int:
    """Wait for a step's end; its exit code, negative where a signal ended it.

    Raises
    ------
    Fault
        The step ended in a traceback, or goes on for too long.
    """
    with open(running.notes, "rb") as notes:
        end = time.monotonic() + longest_s
        while not (done := os.waitpid(running.process, os.WNOHANG))[0]:
            if time.monotonic() > end:
                os.kill(running.process, signal.SIGKILL)
                os.waitpid(running.process, 0)
                raise Fault(f"no end within {longest_s:g} s")
            time.sleep(0.002)
        code = os.waitstatus_to_exitcode(done[1])
        if code == _FAULT:
            raise Fault(notes.read().decode())
    if code not in (0, REFUSED, 4, _STOPPED, -signal.SIGKILL, -signal.SIGTERM):
        raise Fault(f"exit code {code}")
    return code


def run_step(step: Step, folder: Path, base: Path) -> int:
    """Run a step to its end in a forked process; its exit code."""
    return wait_for(start_step(step, folder, base))


def read_files(folder: Path) -> dict[str, bytes]:
    """What a step wrote, but for what differs from run to run."""
    return read_tree(folder, BESIDE)


def write_expected(base: Path) -> None:
    """Run each step in peace, and keep what it writes beside the base."""
    load_libraries()
    for name, step in STEPS.items():
        folder = base / "expected" / name
        folder.parent.mkdir(exist_ok=True)
        prepare_folder(step, folder, base)
        begun = time.monotonic()
        code = run_step(step, folder, base)
        if code != 0:
            raise Fault(f"{name} in peace: exit code {code}")
        (base / "expected" / f"{name}.seconds").write_text(str(time.monotonic() - begun))


def differences(name: str, folder: Path, base: Path) -> tuple[str, ...]:
    """Files that differ from those of the step left in peace."""
    found, expected = read_files(folder), read_files(base / "expected" / name)
    return tuple(
        sorted(n for n in found.keys() | expected.keys() if found.get(n) != expected.get(n))
    )


def list_half_written(step: Step, name: str, folder: Path, base: Path) -> tuple[str, ...]:
    """Files that are neither what they were nor what they become, and unfinished ones."""
    before = read_files(base / step.start) if step.start else {}
    after = read_files(base / "expected" / name)
    half = [
        file
        for file, content in read_files(folder).items()
        if content not in (before.get(file), after.get(file))
    ]
    return tuple(sorted({*half, *list_unfinished(folder)}))
