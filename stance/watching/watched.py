"""What was seen of a player: track, spells of waiting, close looks, pictures."""

from collections.abc import Mapping
from dataclasses import dataclass

import cv2
import numpy as np

from stance.measures.orientation import Observation
from stance.people.track import Track
from stance.types import ImageArray


@dataclass(frozen=True)
class Waiting:
    """A ready position as found: its first and last frame, their times, frames looked at."""

    start_frame: int
    end_frame: int
    start_s: float
    end_s: float
    looks: tuple[int, ...]
    key_frame: int


@dataclass(frozen=True)
class CutOut:
    """A part of a frame as JPEG, and where its top left corner lies in the picture."""

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
class Watched:
    """What was seen of one player.

    Attributes
    ----------
    half : "near" or "far"
    track : Track
    waiting : for each hand that may hold the racket, ready positions in the clip's order
    looks : close looks by frame
    rackets : by frame, the logarithm of the odds that the right hand holds the
        racket, as that picture shows it
    pictures : cut-outs of key frames by frame
    """

    half: str
    track: Track
    waiting: Mapping[str, tuple[Waiting, ...]]
    looks: Mapping[int, Observation]
    rackets: Mapping[int, float]
    pictures: Mapping[int, CutOut]
