"""What is done to steps that write: stopped, two at once, on a full or a read-only disk."""

import os
import random
import signal
import time
from pathlib import Path

from tests.evaluation.faults import confinement
from tests.evaluation.faults.cases import Fault, Seen, list_unfinished
from tests.evaluation.faults.steps import (
    REFUSED,
    STEPS,
    differences,
    list_half_written,
    prepare_folder,
    read_files,
    run_step,
    start_step,
    wait_for,
)

# Two of these on one folder at the same time; what comes out is known where the second name is
# that of the first.
TOGETHER = (
    ("analyse", "analyse"),
    ("screen", "screen"),
    ("compare", "compare"),
    ("history", "history"),
    ("compare", "history"),
    ("history", "forget"),
    ("compare", "forget"),
    ("forget", "forget"),
)


def stop_step(draw: random.Random, place: Path, base: Path) -> Seen:
    """Stop a step at a random moment and run it again."""
    name = draw.choice(list(STEPS))
    step, folder = STEPS[name], place / "out"
    prepare_folder(step, folder, base)
    moment = draw.uniform(0.0, float((base / "expected" / f"{name}.seconds").read_text()))
    number = draw.choice((signal.SIGKILL, signal.SIGTERM))
    running = start_step(step, folder, base)
    time.sleep(moment)
    os.kill(running.process, number)
    code = wait_for(running)
    half = list_half_written(step, name, folder, base) if number == signal.SIGTERM else ()
    return _run_again(name, folder, base, Seen(stopped=code not in (0, 4), half_written=half))


def run_two(draw: random.Random, place: Path, base: Path) -> Seen:
    """Run two steps on one folder at the same time."""
    names = draw.choice(TOGETHER)
    folder = place / "out"
    prepare_folder(STEPS[names[0]], folder, base)
    latest = float((base / "expected" / f"{names[0]}.seconds").read_text())
    waits = (0.0, draw.choice((0.0, draw.uniform(0.0, latest))))
    both = [
        start_step(STEPS[name], folder, base, wait) for name, wait in zip(names, waits, strict=True)
    ]
    codes = [wait_for(running) for running in both]
    refused = REFUSED in codes
    left = list_unfinished(folder)
    if "forget" in names:
        return Seen(refused=refused, half_written=left)
    if refused:
        raise Fault(f"{' and '.join(names)} at the same time: one is refused")
    unlike = differences(names[0], folder, base)
    return Seen(identical=not unlike, left_over=unlike, half_written=left)


def fill_disk(draw: random.Random, place: Path, base: Path) -> Seen:
    """Run a step with too little room, and again with enough."""
    name = draw.choice(list(STEPS))
    step, disk_place = STEPS[name], place / "disk"
    disk_place.mkdir()
    folder = disk_place / "out"
    room = sum(map(len, read_files(base / "expected" / name).values()))
    with confinement.full_disk(disk_place, draw.randrange(room)) as disk:
        prepare_folder(step, folder, base)
        disk.fill()
        code = run_step(step, folder, base)
        disk.empty()
        half = list_half_written(step, name, folder, base) if folder.exists() else ()
        return _run_again(name, folder, base, Seen(refused=code == REFUSED, half_written=half))


def take_rights(draw: random.Random, place: Path, base: Path) -> Seen:
    """Run a step on a folder to which nothing can be written."""
    name = draw.choice(list(STEPS))
    folder = place / "out"
    prepare_folder(STEPS[name], folder, base)
    before = read_files(folder)
    with confinement.read_only(folder):
        code = run_step(STEPS[name], folder, base)
        if name == "history" and code != 0:
            raise Fault("history is refused on a read-only folder")
        if read_files(folder) != before:
            raise Fault("something was written")
    return Seen(refused=code == REFUSED)


def _run_again(name: str, folder: Path, base: Path, seen: Seen) -> Seen:
    """Run a step again after a fault; what it then finds and leaves."""
    code = run_step(STEPS[name], folder, base)
    if code == REFUSED and name != "forget":
        # What is to be forgotten may be forgotten already.
        raise Fault(f"{name} is refused in the next run")
    unlike = differences(name, folder, base)
    extra = {*list_unfinished(folder), *(read_files(folder).keys() & set(unlike))}
    return Seen(
        refused=seen.refused,
        stopped=seen.stopped,
        identical=not unlike,
        half_written=seen.half_written,
        left_over=tuple(sorted(extra)),
    )
