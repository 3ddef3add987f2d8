"""Temporary files and folders, which only their owner can read, and what a killed run left of them.

Each is named after the process that made it, so that the next start can tell what nobody needs.
"""

import os
import re
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from stance.errors import OutputError
from stance.runtime.language import gettext as _

_NAME = re.compile(r"\..+\.(\d+)\.part|marking-page\.(\d+)\.part\.html", re.DOTALL)

# Where Linux shows semaphores, and how joblib's are named that a process shares with its workers.
_SEMAPHORES, _OF_PROCESS = Path("/dev/shm"), "sem.loky-{process}-*"

# A process that has the number of an older one keeps that one's files no longer than this.
_STALE_S = 86_400.0


def name_temporary(name: str) -> str:
    """The temporary name of a file that this process writes."""
    return f".{name}.{os.getpid()}.part"


def open_private(path: str | Path) -> BinaryIO:
    """Open a file to write bytes, which only its owner can read, made or emptied."""
    file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | getattr(os, "O_BINARY", 0), 0o600)
    return open(file, "wb")


@contextmanager
def temporary_folder(place: Path | None = None) -> Iterator[Path]:
    """A folder that only its owner can read, deleted in the end.

    Parameters
    ----------
    place
        in which it is made, and which is made where needed; None for the system's own

    Raises
    ------
    OutputError
        The folder can't be made.
    """
    try:
        if place is not None:
            place.mkdir(mode=0o700, parents=True, exist_ok=True)
        folder = Path(tempfile.mkdtemp(f".{os.getpid()}.part", ".stance-", place))
    except OSError as problem:
        raise OutputError(
            _(
                "Temporary files can't be written to {folder}: {reason}. Name another folder, "
                "or make room."
            ).format(folder=place or tempfile.gettempdir(), reason=problem.strerror)
        ) from None
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def sweep_leftovers(folder: str | Path | None = None) -> None:
    """Delete what processes that are no more left unfinished in a folder.

    Of a process that left a folder there the semaphores that it shared with its workers go too.

    Parameters
    ----------
    folder
        None for the system's folder of temporary files
    """
    place = Path(tempfile.gettempdir() if folder is None else folder)
    with suppress(OSError):
        for entry in os.scandir(place):
            match = _NAME.fullmatch(entry.name)
            process = int(match[1] or match[2]) if match else 0
            if match and _is_left_over(entry, process):
                if entry.is_dir(follow_symlinks=False) and not _is_running(process):
                    _delete_semaphores(process)
                _delete(entry)


def _is_left_over(entry: "os.DirEntry[str]", process: int) -> bool:
    """Whether the process that made a file or folder is gone."""
    try:
        is_stale = time.time() - entry.stat(follow_symlinks=False).st_mtime > _STALE_S
    except OSError:
        return False
    return is_stale or not _is_running(process)


def _is_running(process: int) -> bool:
    """Whether there is a process of a number; where the system can't tell, there is."""
    if sys.platform == "win32":
        return True
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:
        return True
    return True


def _delete(entry: "os.DirEntry[str]") -> None:
    with suppress(OSError):
        if entry.is_dir(follow_symlinks=False):
            shutil.rmtree(entry.path, ignore_errors=True)
        else:
            os.unlink(entry.path)


def _delete_semaphores(process: int) -> None:
    """Delete semaphores of a process: only a kill of all that it started leaves them."""
    for semaphore in _SEMAPHORES.glob(_OF_PROCESS.format(process=process)):
        with suppress(OSError):
            semaphore.unlink()
