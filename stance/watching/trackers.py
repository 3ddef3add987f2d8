"""The trackers of both halves: whose players are measured, which of them count, how these move."""

from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np

from stance.court.camera import Camera, turned_180
from stance.measures.motion import fastest_foot
from stance.people.floor import metres_per_pixel
from stance.people.half_court import MOST_PLAYERS, plays_on_half
from stance.people.landmarks import LANDMARKS
from stance.people.observation import PoseModels
from stance.people.player_state import Player
from stance.people.track import Track, frames_seen
from stance.people.tracker import Tracker
from stance.people.tracker_state import TrackerContext
from stance.types import Half, Hand
from stance.watching.options import ClipContext, WatchOptions


@dataclass(frozen=True)
class TrackedPlayer:
    """A player who is followed and the camera that sees them.

    Attributes
    ----------
    player
        whose motion is asked for
    camera
        of the half's frame, or one assumed so far
    hands
        those that may hold the racket
    """

    player: Player
    camera: Camera
    hands: Sequence[Hand]

    @property
    def foot_speed(self) -> float:
        """Speed of the foot that moved more between the last two observations, metres a second.

        Infinite where one of them does not show the player.
        """
        poses = self.player.poses[-2:]
        pixels = np.array(
            [np.full((LANDMARKS, 2), np.nan) if pose is None else pose.pixels for pose in poses]
        )
        scale = metres_per_pixel(self.camera, pixels)
        return float(fastest_foot(pixels, np.array(self.player.times[-2:]), scale)[0])


# A half on which a player is seen in less than this part of the frames is taken as empty.
LEAST_SEEN = 0.2


@dataclass(frozen=True)
class MainPlayer:
    """A player seen often enough to be measured, and the track through the clip."""

    player: Player
    track: Track


def make_trackers(
    clip: ClipContext,
    options: WatchOptions,
    models: PoseModels,
    workers: Executor,
) -> dict[Half, Tracker]:
    """Make a tracker for each half, "near" first: who is not measured strikes what is faced.

    Without a court there is one only, for the whole picture, called "near".
    """
    camera = clip.camera
    halves: tuple[Half, ...] = ("near", "far") if camera is not None else ("near",)
    return {
        half: Tracker(
            TrackerContext(
                camera if half == "near" or camera is None else turned_180(camera),
                clip.image_size,
                half,
                models,
                workers,
                may_rest=options.effort.rate is not None,
            )
        )
        for half in halves
    }


def measured_halves(trackers: Mapping[Half, Tracker], half: str | None) -> tuple[Half, ...]:
    """Halves whose players are measured; those of the other one, if any, are the opponents.

    Unless one or both are asked for, the far one's only while the near one is empty.

    Parameters
    ----------
    trackers
        of `make_trackers`
    half
        as in `WatchOptions`
    """
    if half == "both" or len(trackers) == 1:
        return tuple(trackers)
    if half is not None:
        return tuple(known for known in trackers if known == half)
    seen = max((p.times_seen / max(len(p.poses), 1) for p in trackers["near"].players), default=0.0)
    return ("near",) if seen >= LEAST_SEEN else ("near", "far")


def main_players(tracker: Tracker, frames: int) -> list[MainPlayer]:
    """The players of a half seen most, at most two, each in a fifth of the clip.

    Parameters
    ----------
    tracker
        of the half
    frames
        number of frames of the clip
    """
    players = [MainPlayer(player, player.track()) for player in tracker.players]
    seen = [
        (main, frames_seen(main.track))
        for main in players
        if tracker.camera is None or plays_on_half(tracker.camera, main.track)
    ]
    most = sorted(seen, key=lambda pair: (-pair[1], pair[0].player.frames[0]))[:MOST_PLAYERS]
    return [main for main, count in most if count >= LEAST_SEEN * frames]
