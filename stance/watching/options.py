"""What a clip is watched with: its context, whom to watch, and how much of it to observe."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from stance.court.camera import Camera
from stance.runtime.model_files import Model
from stance.types import HANDS, Hand


@dataclass(frozen=True)
class Effort:
    """How much is observed; an observation is one use of the pose model on a player in a frame.

    Attributes
    ----------
    model
        pose model that tracks the players
    rate
        observations a second of the players who are measured; None for every frame
    opponent_rate
        the same of who is beyond the net, whose strokes alone are looked for
    observations, most_observations
        close observations of a waiting spell: at first, and at most
    scatter_deg
        close observations go on until the part of the measures' standard error that comes from
        their scatter is below, degrees
    """

    model: Model = "full"
    rate: float | None = 30.0
    opponent_rate: float = 12.5
    observations: int = 2
    most_observations: int = 3
    scatter_deg: float = 1.0


QUICK = Effort()

# The heavy model on every frame, for comparison.
THOROUGH = Effort("heavy", None, np.inf, 1000, 1000)


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
