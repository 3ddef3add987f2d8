"""What a command costs: wall time, processor time, peak memory."""

import os
import subprocess
import sys
import threading
import time
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from tests.paths import ROOT


@dataclass(frozen=True)
class Cost:
    """What a command took, its own processes' processes included (peak: of the largest one)."""

    wall_s: float
    cpu_s: float
    peak_mb: float


def run_timed(
    *command: str | Path,
    checkout: Path = ROOT,
    environment: Mapping[str, str] | None = None,
    memory: list[float] | None = None,
) -> Cost:
    """Run a Python command in a checkout of the project.

    Parameters
    ----------
    command : what comes after `python`
    checkout : the working directory, and where `stance` is imported from
    environment : further variables
    memory : what the command has in memory every second, MB, is added to it (Linux)
    """
    # Python keeps compiled modules, as it does unless told not to.
    variables = os.environ | {"PYTHONPATH": str(checkout), "PYTHONDONTWRITEBYTECODE": ""}
    start = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, *map(str, command)],
        cwd=checkout,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env=variables | dict(environment or {}),
    )
    if memory is not None:
        threading.Thread(target=_note_memory, args=(process.pid, memory)).start()
    _, status, usage = os.wait4(process.pid, 0)
    wall_s = time.perf_counter() - start
    if os.waitstatus_to_exitcode(status):
        raise RuntimeError(f"failed: {' '.join(map(str, command))[:200]}")
    return Cost(wall_s, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024)


def run_analysis(
    film: Path,
    out: Path,
    *options: str,
    fresh: bool = True,
    checkout: Path = ROOT,
    environment: Mapping[str, str] | None = None,
    memory: list[float] | None = None,
) -> Cost:
    """Run `stance analyse` without overlay; `fresh` without what an earlier run kept in `out`."""
    if fresh:
        (out / "poses.npz").unlink(missing_ok=True)
    command = ["-m", "stance", "analyse", film, "--court", film.with_suffix(".court.json")]
    command += ["--no-overlay", "--out", out, *options]
    return run_timed(*command, checkout=checkout, environment=environment, memory=memory)


def report_folder(film: Path, *options: str) -> Path:
    """Folder of a film's report."""
    return film.with_name(film.stem + "_report" + "".join(options))


def _note_memory(process: int, memory: list[float]) -> None:
    """Add what a process has in memory every second, MB, until it ends."""
    with suppress(OSError, ValueError):
        while True:
            pages = int(Path(f"/proc/{process}/statm").read_text().split()[1])
            if pages:
                memory.append(pages * os.sysconf("SC_PAGE_SIZE") / 2**20)
            time.sleep(1.0)
