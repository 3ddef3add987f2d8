"""What a caller of the analysis may choose."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from stance.measures.classes import DEFAULT_LIMITS, Limits
from stance.types import FilmedFrom, Hand
from stance.watching.options import QUICK, Effort, WatchOptions


@dataclass(frozen=True)
class AnalysisOptions:
    """Whom to measure in a clip, and how.

    Attributes
    ----------
    hand
        racket hand of all players, "right" or "left"; None to see it from the clip
    half
        "near", "far" or "both"; None for the near half and, where that is empty, the far one
    player
        letter of the only player to measure; None for all
    names
        what the coach calls the players, by letter
    limits
        limits of the classes
    effort
        how much to observe
    cache_folder
        where the poses of an earlier run may lie; None to watch the clip in any case
    filmed_from
        where the phone stood, seen from a player who faces the net; asked only where the court is
        neither marked nor found
    workers
        threads that decode, and that run pose models; the result does not depend on it
    blur_faces
        whether no face can be known in pictures and overlay; poses are not kept then, since they
        hold pictures too
    """

    hand: Hand | None = None
    half: str | None = None
    player: str | None = None
    names: Mapping[str, str] = field(default_factory=dict)
    limits: Limits = DEFAULT_LIMITS
    effort: Effort = QUICK
    cache_folder: str | Path | None = None
    filmed_from: FilmedFrom | None = None
    workers: int | None = None
    blur_faces: bool = False

    @property
    def watching(self) -> WatchOptions:
        """What of this the watching of the clip needs."""
        return WatchOptions(self.half, self.hand, self.effort, self.workers)


DEFAULT_OPTIONS = AnalysisOptions()
