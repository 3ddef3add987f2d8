"""A clip to analyse, and what became of it."""

from dataclasses import dataclass

from stance.results.model import Result
from stance.types import FilmedFrom, Hand


@dataclass(frozen=True)
class Job:
    """A clip to analyse: path or URL of clip and court file; hand and phone's place where given.

    `blur_faces` asks for pictures in which no face can be known.
    """

    clip: str
    court: str | None = None
    hand: Hand | None = None
    filmed_from: FilmedFrom | None = None
    blur_faces: bool = False


@dataclass(frozen=True)
class Outcome:
    """What became of a job.

    Attributes
    ----------
    job
        the clip to analyse
    key
        under which the result is stored; None where there is none
    result
        Result, None where there is none
    reason
        a sentence why there is no result; None where there is one
    """

    job: Job
    key: str | None = None
    result: Result | None = None
    reason: str | None = None
