"""What a case is, and what is seen of it."""

import random
import traceback
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

# The ends of names that only unfinished files have.
UNFINISHED = (".part", ".part.html")


class Fault(Exception):
    """The tool did what it must not do; the text says what."""


@dataclass(frozen=True)
class Seen:
    """What a case saw of the tool.

    Attributes
    ----------
    refused
        the tool said in a sentence that it can't
    stopped
        it was killed before it was done
    identical
        whether the next run's files are those of a run left in peace; None where not compared
    half_written, left_over
        files that are neither what was there before nor what belongs there; files that stay though
        nobody needs them
    seconds
        of the tool; None where all that the case did is the tool's
    """

    refused: bool = False
    stopped: bool = False
    identical: bool | None = None
    half_written: tuple[str, ...] = ()
    left_over: tuple[str, ...] = ()
    seconds: float | None = None


@dataclass(frozen=True)
class Kind:
    """A kind of case.

    Attributes
    ----------
    run
        one case, from its random numbers, an empty folder and the folder of what all cases share
    share
        relative number of cases
    needs
        what they share
    longest_s, given_up_s
        what the tool may take, and how long a case is waited for on a busy machine
    own_mounts
        whether it needs mounts of its own
    """

    run: Callable[[random.Random, Path, Path], Seen | None]
    share: int
    needs: tuple[str, ...] = ()
    longest_s: float = 20.0
    given_up_s: float = 300.0
    own_mounts: bool = False


@dataclass(frozen=True)
class Outcome:
    """One case: "done", "refused" or what went wrong, and what else was seen."""

    verdict: str
    seconds: float = 0.0
    seen: Seen = field(default_factory=Seen)


def read_tree(folder: Path, but: tuple[str, ...] = ()) -> dict[str, bytes]:
    """Content of all files below a folder, by relative path; some names are left out."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name not in but
    }


def list_unfinished(folder: Path) -> tuple[str, ...]:
    """Names of unfinished files and folders."""
    return tuple(sorted(p.name for p in folder.rglob("*") if p.name.endswith(UNFINISHED)))


def name_fault(problem: BaseException) -> str:
    """A fault's name: its text, or the error with the place where it was raised."""
    if isinstance(problem, Fault):
        return str(problem)
    frame = traceback.extract_tb(problem.__traceback__)[-1]
    return f"{type(problem).__name__} in {Path(frame.filename).name}:{frame.lineno}"
