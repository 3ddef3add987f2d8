"""What was seen of a player: track, waiting spells, close observations, crops."""

from collections.abc import Mapping
from dataclasses import dataclass

import cv2
import numpy as np

from stance.measures.orientation import Observation
from stance.people.track import Track
from stance.types import ImageArray


@dataclass(frozen=True)
class WaitingSpell:
    """A stretch of the clip in which a player waits, as found in the track.

    Attributes
    ----------
    start_frame, end_frame : first and last frame
    start_s, end_s : their times, seconds
    observed_frames : frames with a close observation
    key_frame : the middle one of these, shown in the report
    """

    start_frame: int
    end_frame: int
    start_s: float
    end_s: float
    observed_frames: tuple[int, ...]
    key_frame: int


@dataclass(frozen=True)
class CompressedCrop:
    """A part of a frame as JPEG; x and y of its top left corner, pixels of the picture."""

    jpeg: bytes
    x: int
    y: int

    @property
    def image(self) -> ImageArray:
        """(height, width, 3) RGB."""
        coded = cv2.imdecode(np.frombuffer(self.jpeg, np.uint8), cv2.IMREAD_COLOR)
        assert coded is not None
        return np.asarray(cv2.cvtColor(coded, cv2.COLOR_BGR2RGB), np.uint8)


@dataclass(frozen=True)
class WatchedPlayer:
    """What was seen of one player.

    Attributes
    ----------
    half : "near" or "far"
    track : the player's poses through the clip
    spells : for each hand that may hold the racket, waiting spells in the clip's order
    observations : close observations by frame
    racket_log_odds : by frame, the logarithm of the odds that the right hand holds the racket, as
        that picture shows it
    key_crops : the part around the player of each spell's key frame, by frame
    """

    half: str
    track: Track
    spells: Mapping[str, tuple[WaitingSpell, ...]]
    observations: Mapping[int, Observation]
    racket_log_odds: Mapping[int, float]
    key_crops: Mapping[int, CompressedCrop]
