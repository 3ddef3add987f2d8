"""Whole runs of the tool as programs of their own: killed, without a network, on other cores."""

import contextlib
import json
import math
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from tests.evaluation.faults import confinement
from tests.evaluation.faults.cases import Fault, Seen, list_unfinished
from tests.evaluation.faults.steps import read_files
from tests.paths import ROOT

# Workers look for their parent twice a second; then they are gone.
_GONE_S = 5.0

_GIVEN_UP_S = 240.0

# Numbers of a result may differ so much with the arithmetic of another processor: angles by half a
# degree, a tenth of most standard errors; all else (metres, probabilities) by a fiftieth.
_CLOSE_DEG, _CLOSE = 0.5, 0.02

RUNS = ("analysis", "screening")


@dataclass(frozen=True)
class Setting:
    """Where a run takes place: before its command, its variables, and its cores."""

    prefix: tuple[str, ...] = ()
    variables: Mapping[str, str] = field(default_factory=dict)
    cores: int | None = None


def write_expected(base: Path) -> None:
    """Do each run in peace, and keep what it writes beside the base."""
    for name in RUNS:
        folder = base / "whole" / name
        begun = time.monotonic()
        finish(name, folder, base)
        (base / "whole" / f"{name}.seconds").write_text(str(time.monotonic() - begun))


def kill_run(draw: random.Random, place: Path, base: Path) -> Seen:
    """Kill a run at a random moment, with its workers or without, and run it again."""
    name = draw.choice(RUNS)
    whole_s = float((base / "whole" / f"{name}.seconds").read_text())
    moment, number = draw.uniform(0.1, whole_s), draw.choice((signal.SIGKILL, signal.SIGTERM))
    everyone = draw.random() < 0.5
    run = _start(name, place / "out", base, Setting())
    try:
        run.wait(moment)
    except subprocess.TimeoutExpired:
        (os.killpg if everyone else os.kill)(run.pid, number)
    said = _hear(run)
    _wait_for_session(run.pid)
    stopped = run.returncode not in (0, 4)
    # Where an interrupt comes in the midst of text that Python executes, it ends by SIGINT; a shell
    # shows 130 for both.
    if run.returncode not in (0, 130, -signal.SIGINT, -number):
        raise Fault(f"exit code {run.returncode} after signal {number}: {said[-200:]}")
    if "Traceback" in said:
        raise Fault(f"a traceback after signal {number}: {said.strip().splitlines()[-1]}")
    begun = time.monotonic()
    finish(name, place / "out", base)
    seconds = time.monotonic() - begun
    unlike = _differences(name, place / "out", base)
    left = [*list_unfinished(place), *_list_shared_memory(run.pid)]
    left += [path.name for path in (place / "temporary").iterdir()]
    return Seen(stopped=stopped, identical=not unlike, left_over=tuple(left), seconds=seconds)


def run_twice(draw: random.Random, place: Path, base: Path) -> Seen:
    """Do a run twice at the same time on one folder."""
    name = draw.choice(RUNS)
    begun = time.monotonic()
    both = [_start(name, place / "out", base, Setting()) for _ in range(2)]
    for run in both:
        _check(name, run)
    seconds = time.monotonic() - begun
    unlike = _differences(name, place / "out", base)
    return Seen(identical=not unlike, left_over=list_unfinished(place), seconds=seconds)


def run_without_network(draw: random.Random, place: Path, base: Path) -> Seen:
    """Do a run in a network namespace without interfaces; it opens no socket of the Internet."""
    if not confinement.is_permitted(confinement.NO_NETWORK):
        return Seen(refused=True)
    name = draw.choice(RUNS)
    begun = time.monotonic()
    run = _start(name, place / "out", base, Setting(confinement.NO_NETWORK))
    opened: set[str] = set()
    while run.poll() is None:
        opened |= _list_sockets(run.pid)
        time.sleep(0.01)
    _check(name, run)
    if opened:
        raise Fault(f"it opened sockets: {' '.join(sorted(opened))}")
    seconds = time.monotonic() - begun
    unlike = _differences(name, place / "out", base)
    return Seen(identical=not unlike, left_over=list_unfinished(place), seconds=seconds)


def _list_sockets(process: int) -> set[str]:
    """The sockets of a process's network namespace, where it has one of its own (proc(5), net)."""
    sockets: set[str] = set()
    with contextlib.suppress(OSError):
        here = Path(f"/proc/{process}")
        if os.readlink(here / "ns" / "net") != os.readlink("/proc/self/ns/net"):
            for kind in ("tcp", "tcp6", "udp", "udp6", "raw", "raw6"):
                lines = (here / "net" / kind).read_text().splitlines()[1:]
                sockets |= {f"{kind} {line.split()[1]}" for line in lines}
    return sockets


def repeat_run(draw: random.Random, place: Path, base: Path) -> Seen:
    """Do a run on one or two cores, with other settings of the libraries for arithmetic."""
    zone = draw.choice(("UTC", "Asia/Tokyo"))
    variables = {"PYTHONHASHSEED": str(draw.randrange(1000)), "TZ": zone}
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        if draw.random() < 0.7:
            variables[name] = draw.choice(("1", "2", "7"))
    if draw.random() < 0.5:
        variables["OPENBLAS_CORETYPE"] = draw.choice(("Prescott", "Nehalem", "Haswell"))
    return _compare(draw.choice(RUNS), place, base, Setting((), variables, draw.choice((1, 2))))


def _compare(name: str, place: Path, base: Path, setting: Setting) -> Seen:
    begun = time.monotonic()
    finish(name, place / "out", base, setting)
    seconds = time.monotonic() - begun
    is_other_arithmetic = "OPENBLAS_CORETYPE" in setting.variables
    unlike = _differences(name, place / "out", base, is_other_arithmetic)
    if unlike:
        settings = " ".join(f"{k}={v}" for k, v in setting.variables.items())
        raise Fault(f"{name} differs with {setting.cores} cores, {settings}: {', '.join(unlike)}")
    identical = None if is_other_arithmetic else True
    return Seen(identical=identical, left_over=list_unfinished(place), seconds=seconds)


def _differences(name: str, folder: Path, base: Path, close: bool = False) -> tuple[str, ...]:
    """Files that differ from those of the run left in peace.

    With the arithmetic of another processor (`close`) the last digits of sums are others, and a
    picture cut out a hundredth of a pixel beside gives another pose; then only results are
    compared, for the same words and counts and nearly the same numbers.
    """
    found, expected = read_files(folder), read_files(base / "whole" / name)
    return tuple(
        sorted(
            file
            for file in found.keys() | expected.keys()
            if found.get(file) != expected.get(file)
            and not (close and _is_close(file, found.get(file), expected.get(file)))
        )
    )


def _is_close(file: str, found: bytes | None, expected: bytes | None) -> bool:
    """Whether two files are there and, where they are results, say nearly the same."""
    if found is None or expected is None:
        return False
    is_result = file.endswith("result.json")
    return not is_result or _are_close(json.loads(found), json.loads(expected))


def _are_close(one: object, other: object, most: float = _CLOSE) -> bool:
    """Whether two JSON values are the same but for numbers, which differ little."""
    match one, other:
        case dict(), dict():
            return one.keys() == other.keys() and all(
                _are_close(one[key], other[key], _CLOSE_DEG if key.endswith("_deg") else _CLOSE)
                for key in one
            )
        case list(), list():
            return len(one) == len(other) and all(map(_are_close, one, other))
        case float(), float():
            return math.isclose(one, other, rel_tol=0.1, abs_tol=most)
    return one == other


def finish(name: str, folder: Path, base: Path, setting: Setting = Setting()) -> None:
    """Do a run to its end.

    Raises
    ------
    Fault
        It fails, or says anything of a fault.
    """
    _check(name, _start(name, folder, base, setting))


def _check(name: str, run: "subprocess.Popen[str]") -> None:
    """Wait for a run, which must not fail."""
    said = _hear(run)
    if run.returncode != 0 or "Traceback" in said or "fault of the tool" in said:
        raise Fault(f"{name}: exit code {run.returncode}: {said.strip()[-200:]}")


def _start(name: str, folder: Path, base: Path, setting: Setting) -> "subprocess.Popen[str]":
    if name == "analysis":
        arguments = ["analyse", base / "short.mp4", "--out", folder]
    else:
        arguments = ["screen", base / "small" / "roster.csv", "--out", folder, "--workers", "2"]
    temporary = folder.parent / "temporary"
    temporary.mkdir(parents=True, exist_ok=True)
    places = {"TMPDIR": str(temporary), "PYTHONPATH": str(ROOT)}
    every = os.sched_getaffinity(0)
    if setting.cores:
        # A child runs where its parent may.
        os.sched_setaffinity(0, sorted(_all_cores())[: setting.cores])
    try:
        return subprocess.Popen(
            [*setting.prefix, sys.executable, "-m", "stance", *map(str, arguments)],
            env=os.environ | places | setting.variables,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
            start_new_session=True,
        )
    finally:
        os.sched_setaffinity(0, every)


def _all_cores() -> set[int]:
    """The cores of the whole suite, of which this worker keeps to one."""
    return os.sched_getaffinity(os.getppid())


def _hear(run: "subprocess.Popen[str]") -> str:
    """What a run says on stderr until it ends."""
    try:
        return run.communicate(timeout=_GIVEN_UP_S)[1]
    except subprocess.TimeoutExpired:
        os.killpg(run.pid, signal.SIGKILL)
        run.communicate()
        raise Fault(f"no end within {_GIVEN_UP_S:g} s") from None


def _wait_for_session(leader: int) -> None:
    """Wait until no process of a run is left."""
    end = time.monotonic() + _GONE_S
    while living := _list_session(leader):
        if time.monotonic() > end:
            for process in living:
                os.kill(process, signal.SIGKILL)
            raise Fault(f"a process of a killed run lives on after {_GONE_S:g} s")
        time.sleep(0.05)


def _list_session(leader: int) -> list[int]:
    """The living processes of a session; what nobody waited for is dead (proc(5), stat)."""
    living = []
    for place in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError):
            state, _, _, session = (place / "stat").read_text().rpartition(")")[2].split()[:4]
            if int(session) == leader and state != "Z":
                living.append(int(place.name))
    return living


def _list_shared_memory(process: int) -> list[str]:
    """What a process left in the folder of shared memory."""
    shared = Path("/dev/shm")
    names = [path.name for path in shared.iterdir()] if shared.is_dir() else []
    return [name for name in names if f"-{process}-" in name or f"_{process}_" in name]
