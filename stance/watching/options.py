"""What a clip is watched with: the clip's context, and what the caller asks for."""

from dataclasses import dataclass
from pathlib import Path

from stance.court.camera import Camera
from stance.types import HANDS, Hand
from stance.watching.effort import QUICK, Effort


@dataclass(frozen=True)
class ClipContext:
    """A clip, and what is known of it before it is watched.

    Attributes
    ----------
    path
        of the video
    image_size
        (width, height) of the upright picture, pixels
    expected_frames
        for the progress
    camera
        of the marked or found court, in the near half's frame; None where there is none
    """

    path: str | Path
    image_size: tuple[int, int]
    expected_frames: int
    camera: Camera | None = None


@dataclass(frozen=True)
class WatchOptions:
    """Whom to watch, and how.

    Attributes
    ----------
    half
        "near", "far", "both", or None for the near half and, where that is empty, the far one
    hand
        racket hand of all players where it is given
    effort
        how much to observe
    workers
        threads that decode, and that run pose models; the result does not depend on it
    """

    half: str | None = None
    hand: Hand | None = None
    effort: Effort = QUICK
    workers: int | None = None

    @property
    def hands(self) -> tuple[Hand, ...]:
        """Hands that may hold the racket: which one does is known at the clip's end only."""
        return HANDS if self.hand is None else (self.hand,)


DEFAULT_OPTIONS = WatchOptions()
