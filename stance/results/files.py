"""Files written whole or not at all."""

import os
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from stance.errors import OutputError
from stance.results.temporary import name_temporary, open_private, sweep_leftovers
from stance.runtime.language import gettext as _


def check_folder(folder: str | Path) -> None:
    """Find out, before a long run, whether files can be written to a folder.

    What killed runs left in it is taken away, and nothing is made.

    Raises
    ------
    OutputError
        The folder can't be made or written to.
    """
    place = Path(folder)
    try:
        with suppress(FileNotFoundError):
            # A name that is too long, or holds what no name may, is refused here.
            os.lstat(place)
        existing = next(p for p in (place.absolute(), *place.absolute().parents) if p.exists())
        with tempfile.TemporaryFile(dir=existing):
            pass
    except (OSError, ValueError) as problem:
        raise _cannot_write(place, problem) from None
    sweep_leftovers(place)


def _cannot_write(place: Path, problem: Exception) -> OutputError:
    reason = getattr(problem, "strerror", None) or str(problem)
    return OutputError(
        _(
            "The results can't be written to the folder {place}: {reason}. Name another "
            "folder, or make room."
        ).format(place=place, reason=reason)
    )


def write_files(folder: str | Path, files: Mapping[str, str]) -> None:
    """Write text files into a folder, which is made where needed; whole or not at all.

    Each file is written under a temporary name first; only when all are complete do they take
    their places. Whatever stops the writing, Ctrl-C included, leaves what was there before. Only
    their owner can read the files, and the folder where it is made: they hold names and pictures
    of players.

    Parameters
    ----------
    folder
        path
    files
        file name to text, written as UTF-8.

    Raises
    ------
    OutputError
        The folder can't be made or written to.
    """
    _write_whole(Path(folder), {name: text.encode() for name, text in files.items()})


def write_bytes(path: Path, content: bytes) -> None:
    """Write one file whole or not at all, as `write_files` does."""
    _write_whole(path.parent, {path.name: content})


def _write_whole(place: Path, files: Mapping[str, bytes]) -> None:
    temporary = {place / name_temporary(name): place / name for name in files}
    try:
        place.mkdir(mode=0o700, parents=True, exist_ok=True)
        for part, content in zip(temporary, files.values(), strict=True):
            with open_private(part) as file:
                file.write(content)
        for part, final in temporary.items():
            os.replace(part, final)
    except OSError as problem:
        raise _cannot_write(place, problem) from None
    finally:
        for part in temporary:
            with suppress(OSError):
                part.unlink()
