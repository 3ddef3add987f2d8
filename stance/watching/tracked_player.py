"""A tracked player, with what is needed to tell how they move."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stance.court.camera import Camera
from stance.measures.motion import Motion, motions_between
from stance.people.floor import metres_per_pixel
from stance.people.player_state import Player
from stance.people.tracker import Tracker
from stance.types import Hand


@dataclass(frozen=True)
class TrackedPlayer:
    """A player, the tracker that follows them and the camera that sees them.

    Attributes
    ----------
    tracker
        of the player's half
    player
        Player
    camera
        of the half's frame, or one assumed so far
    hands
        those that may hold the racket
    """

    tracker: Tracker
    player: Player
    camera: Camera
    hands: Sequence[Hand]

    def motions(self, numbers: Sequence[int]) -> list[Motion]:
        """How much the player moved from each of some observations, by number, to the next."""
        poses = [self.player.poses[number] for number in numbers]
        pixels = np.array(
            [np.full((33, 2), np.nan) if pose is None else pose.pixels for pose in poses]
        )
        times = np.array([self.player.times[number] for number in numbers])
        return motions_between(pixels, times, metres_per_pixel(self.camera, pixels), self.hands)
