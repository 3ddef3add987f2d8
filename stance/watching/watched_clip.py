"""What was seen in a clip: its camera's motion, the court, and of each player track and spells."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import cv2
import numpy as np

from stance.camera_motion.motion import CameraMotion
from stance.court.calibration import CalibratedCourt, FoundCourt
from stance.court.camera import Camera, turned_180
from stance.measures.orientation import Observation
from stance.people.replays import Replay, find_replays
from stance.people.track import Track
from stance.types import FloatArray, Half, Hand, ImageArray

MarkedFit = Literal["agrees", "unseen", "replaced"]
"""Whether a marked court lies on the painted lines: it does; the picture shows too little of them;
it does not, and the one that was found took its place."""


@dataclass(frozen=True)
class ObservedSpell:
    """A stretch of the clip in which a player waits or stands planted, as found in the track.

    Attributes
    ----------
    start_frame, end_frame
        first and last frame
    start_s, end_s
        their times, seconds
    observed_frames
        frames with a close observation
    key_frame
        the middle one of these, shown in the report
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
    half
        "near" or "far"
    track
        the player's poses through the clip
    spells
        for each hand that may hold the racket, waiting spells in the clip's order
    observations
        close observations by frame
    racket_log_odds
        by frame, the logarithm of the odds that the right hand holds the racket, as that picture
        shows it
    key_crops
        the part around the player in each spell's key frame, and some ten times a second from
        shortly before a spell, by frame
    planted
        spells with both feet planted, in the clip's order
    """

    half: Half
    track: Track
    spells: Mapping[str, tuple[ObservedSpell, ...]]
    observations: Mapping[int, Observation]
    racket_log_odds: Mapping[int, float]
    key_crops: Mapping[int, CompressedCrop]
    planted: tuple[ObservedSpell, ...] = ()

    def own_camera(self, near: Camera) -> Camera:
        """The camera in the frame of the player's half, from that in the near half's."""
        return near if self.half == "near" else turned_180(near)


@dataclass(frozen=True)
class Opponent:
    """Somebody on the half that is not measured: their half and their track."""

    half: Half
    track: Track

    def own_camera(self, near: Camera) -> Camera:
        """The camera in the frame of their half, from that in the near half's."""
        return near if self.half == "near" else turned_180(near)


@dataclass(frozen=True)
class RacketHand:
    """The hand that holds a player's racket, "right" or "left", and the confidence, 0.5 to 1."""

    hand: Hand
    confidence: float


@dataclass(frozen=True)
class WatchedClip:
    """What was seen in a clip.

    Attributes
    ----------
    motion
        how the camera moved
    times
        (frames,) seconds of all frames of the clip
    players
        those who count, the near half's first
    racket_hands
        of each player
    marked
        the camera that follows from the marks, where a court was marked
    found
        the court searched in the picture, where none was marked or the marked one does not fit
    opponents
        who was followed on the half that is not measured
    onsets_s
        (onsets,) when something sharp is heard, seconds
    marked_fit
        whether a marked court fits the clip
    """

    motion: CameraMotion
    times: FloatArray
    players: tuple[WatchedPlayer, ...]
    racket_hands: tuple[RacketHand, ...]
    marked: CalibratedCourt | None
    found: FoundCourt | None
    opponents: tuple[Opponent, ...] = ()
    onsets_s: FloatArray = field(default_factory=lambda: np.empty(0))
    marked_fit: MarkedFit = "agrees"

    @cached_property
    def replays(self) -> tuple[Replay, ...]:
        """The replays in slow motion that the clip holds."""
        return find_replays([player.track for player in self.players])

    @property
    def tracks(self) -> tuple[Track, ...]:
        """Tracks of all who were followed, on both halves."""
        return (*(p.track for p in self.players), *(o.track for o in self.opponents))

    @property
    def court(self) -> CalibratedCourt | None:
        """The marked or the found court; None where neither is known."""
        return self.marked if self.found is None else self.found.court
