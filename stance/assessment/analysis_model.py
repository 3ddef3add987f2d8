"""All that the analysis of a clip gives."""

from collections.abc import Mapping
from dataclasses import dataclass

from stance.court.camera import Camera
from stance.people.track import Track
from stance.results.model import Result
from stance.types import ImageArray
from stance.watching.pose_cache import WatchedClip


@dataclass(frozen=True)
class Analysis:
    """A result, and what is needed to draw it.

    Attributes
    ----------
    result : Result
    pictures : key picture (height, width, 3) RGB by (player, number of the ready position); drawn
        when asked for
    tracks : track of each player by letter
    cameras : camera in the frame of each player's half by letter
    cache_key : what the poses depend on
    watched_clip : all that was seen in the clip; tracks and cameras are those of the reference picture of
        its camera's motion
    """

    result: Result
    pictures: Mapping[tuple[str, int], ImageArray]
    tracks: dict[str, Track]
    cameras: dict[str, Camera]
    cache_key: str
    watched_clip: WatchedClip
