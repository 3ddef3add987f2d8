"""All that the analysis of a clip gives."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from stance.assessment.picture_key import PictureKey
from stance.assessment.players import MeasuredPlayer
from stance.court.camera import Camera
from stance.people.track import Track
from stance.results.model import Result
from stance.types import ImageArray
from stance.watching.watched_clip import WatchedClip


@dataclass(frozen=True)
class Analysis:
    """A result, and what is needed to draw it.

    Attributes
    ----------
    result
        the measures and classes, as written to files
    pictures
        (height, width, 3) RGB of the moments of which there is a picture; drawn when asked for
    players
        measured players by letter
    cache_key
        what the poses depend on
    cached_in
        folder whose poses were used; None where the clip was watched
    watched_clip
        all that was seen in the clip; tracks and cameras are those of the reference picture of its
        camera's motion
    faces_blurred
        whether no face can be known in what is drawn
    """

    result: Result
    pictures: Mapping[PictureKey, ImageArray]
    players: Mapping[str, MeasuredPlayer]
    cache_key: str
    cached_in: str | Path | None
    watched_clip: WatchedClip
    faces_blurred: bool = False

    @property
    def tracks(self) -> dict[str, Track]:
        """Track of each player by letter."""
        return {letter: player.watched.track for letter, player in self.players.items()}

    @property
    def cameras(self) -> dict[str, Camera]:
        """Camera in the frame of each player's half by letter."""
        return {letter: player.camera for letter, player in self.players.items()}
