"""What is known of a player while followed: observations so far, where the next is expected."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from stance.court.camera import Camera
from stance.people.floor import base_on_floor
from stance.people.landmarks import FEET, HIPS, LANDMARKS, Box, Pose
from stance.people.observation import Observation, ObservationId
from stance.people.pose_history import PoseHistory
from stance.people.settings import SETTINGS
from stance.people.stillness import ReferenceView
from stance.people.track import Track
from stance.types import FloatArray, Half
from stance.video.frame import Frame


class TrackId(NamedTuple):
    """Which track of a run: the half whose players are followed, and its how-manieth track there.

    Never given to another player, also not where one takes the place of another.
    """

    half: Half
    number: int


@dataclass(eq=False)
class Player:
    """One person on the half, as far as they have been followed.

    Attributes
    ----------
    track_id
        of the player for the whole run
    landmarker_number
        which steady landmarker of the half follows them
    colours
        (1024,) worn, as `colours_worn` returns them
    poses
        one for each frame in which they were looked for
    colours_sure
        false while they have only been seen partly behind the partner
    frames, times
        numbers of those frames, and seconds
    last_seen
        number of the last observation in `poses`
    reference
        what the square looked like at the last observation, where that is known
    place_in_crop
        where the person was seen in the last crop of the steady landmarker, (x, y) as parts of its
        side
    outside_s
        for how many seconds longer they stood beside the half than on it
    times_seen
        number of frames in which they were seen
    """

    track_id: TrackId
    landmarker_number: int
    colours: FloatArray
    poses: PoseHistory
    colours_sure: bool = True
    frames: list[int] = field(default_factory=list)
    times: list[float] = field(default_factory=list)
    last_seen: int = -1
    reference: ReferenceView | None = None
    place_in_crop: tuple[float, float] = (0.5, 0.5)
    outside_s: float = 0.0
    times_seen: int = field(init=False)
    _last_place: tuple[ObservationId, FloatArray] | None = None

    def __post_init__(self) -> None:
        self.times_seen = sum(self.poses.seen)

    def append(self, frame: Frame, observation: Observation | None) -> None:
        """Note what was seen in a later frame."""
        self.frames.append(frame.index)
        self.times.append(frame.time_s)
        self.poses.append(observation)
        if observation is not None:
            self.last_seen = len(self.poses) - 1
            self.times_seen += 1

    def insert(self, frame: Frame, observation: Observation) -> None:
        """Note what was seen in a frame before the last one, in the place of what was noted."""
        number, noted = self._number_of(frame.index)
        self.times_seen += not noted or self.poses[number] is None
        if noted:
            self.poses.replace(number, observation)
            return
        self.frames.insert(number, frame.index)
        self.times.insert(number, frame.time_s)
        self.poses.insert(number, observation)
        self.last_seen += number <= self.last_seen

    def replace_last(self, observation: Observation) -> None:
        """Put a better observation in the place of the last one, wherever that was kept."""
        self.poses.replace_rest(self.last_seen, observation)

    def pose_at(self, frame: int) -> Pose | None:
        """The pose noted for a frame, if there is one."""
        number, noted = self._number_of(frame)
        return self.poses[number] if noted else None

    def observation_at(self, frame: int) -> Observation | None:
        """The observation noted for a frame, if there is one."""
        number, noted = self._number_of(frame)
        return self.poses.observation(number) if noted else None

    @property
    def seen_at(self) -> float:
        """When the player was last seen, seconds."""
        return self.times[self.last_seen]

    @property
    def last_observation(self) -> Observation:
        """The last observation that shows the player."""
        observation = self.poses.observation(self.last_seen)
        assert observation is not None
        return observation

    @property
    def last_pose(self) -> Pose:
        """The last pose seen."""
        return self.last_observation.pose

    @property
    def misses(self) -> int:
        """In how many of the latest frames given the player was not seen."""
        return len(self.poses) - 1 - self.last_seen

    def is_lost(self, time_s: float) -> bool:
        """Whether the player has not been seen for so long that they are no longer followed."""
        return time_s - self.seen_at > SETTINGS.player.lost_s

    def was_seen_briefly(self, time_s: float) -> bool:
        """Whether the player is lost and was seen so shortly that it was somebody else's part."""
        return self.is_lost(time_s) and self.seen_at - self.times[0] <= SETTINGS.player.brief_s

    def was_lost_lately(self, time_s: float) -> bool:
        """Whether the player is lost, but may still be found where that was."""
        return self.is_lost(time_s) and time_s - self.seen_at <= SETTINGS.player.gone_s

    @property
    def largest_side(self) -> float:
        """Side of the square around the tallest of the last poses, pixels.

        The last one may have been half hidden, or a crouch.
        """
        return max(pose.box.side for pose in self._recent_poses)

    @property
    def feet_row(self) -> float:
        """How far down the picture the feet were in the last observations, pixels.

        Of two players the one lower down is nearer to the camera.
        """
        return float(np.median([pose.pixels[FEET, 1].max() for pose in self._recent_poses]))

    def displacement(self, time_s: float) -> FloatArray:
        """How far the hips should have come since the last pose, (2,) pixels."""
        settings = SETTINGS.player
        since = time_s - self.seen_at
        if since > settings.lost_s:
            return np.zeros(2)
        for number in range(self.last_seen - 1, -1, -1):
            step = self.seen_at - self.times[number]
            if step > settings.lost_s:
                break
            known = self.poses[number] if step >= settings.motion_step_s else None
            if known is not None:
                motion = (self.last_pose.pixels - known.pixels)[HIPS].mean(axis=0)
                return np.asarray(motion / step * min(since, settings.longest_motion_s))
        return np.zeros(2)

    def expected_pose(self, time_s: float) -> Pose:
        """Return the last pose, moved to where the player should be."""
        return self.last_pose.moved(*self.displacement(time_s))

    def expected_box(self, time_s: float) -> Box:
        """Return the square in which the player should be."""
        return self.expected_pose(time_s).box

    def last_place(self, camera: Camera | None) -> FloatArray:
        """Where the player was last seen.

        Returns
        -------
        (2,) metres on the floor, in the camera's frame; without a camera pixels
        """
        last = self.last_observation
        if self._last_place is None or self._last_place[0] != last.id:
            pixels = last.pose.pixels
            place = pixels[HIPS].mean(axis=0) if camera is None else base_on_floor(camera, pixels)
            self._last_place = last.id, place
        return self._last_place[1]

    def is_covered(self, players: Iterable["Player"]) -> bool:
        """Whether the square overlaps another player's, so that colours may be mixed up."""
        box = self.last_pose.box
        return any(
            box.is_near(other.last_pose.box, SETTINGS.player.covered_sides)
            for other in players
            if other.track_id != self.track_id
        )

    def track(self, first: int = 0) -> Track:
        """Return what was seen, from number `first` on, as a track."""
        count = len(self.frames[first:])
        pixels, visibility, world = (
            np.full((count, LANDMARKS, *values), np.nan) for values in ((2,), (), (3,))
        )
        # One at a time: all of a long clip's poses would fill memory.
        for number in range(count):
            pose = self.poses[first + number]
            if pose is not None:
                pixels[number], visibility[number], world[number] = (
                    pose.pixels,
                    pose.visibility,
                    pose.world,
                )
        return Track(
            np.array(self.frames[first:], int),
            np.array(self.times[first:], float),
            pixels,
            visibility,
            world,
        )

    def _number_of(self, frame: int) -> tuple[int, bool]:
        """Number that what was seen in a frame has or would have, and whether it has one."""
        number = bisect_left(self.frames, frame)
        return number, number < len(self.frames) and self.frames[number] == frame

    @property
    def _recent_poses(self) -> list[Pose]:
        """The poses of the last frames up to the last one in which the player was seen."""
        first = max(self.last_seen + 1 - SETTINGS.player.recent_observations, 0)
        recent = self.poses[first : self.last_seen + 1]
        return [pose for pose in recent if pose is not None]


# What follows from the later observations, and so goes with them.
_FOLLOWS_LATEST = (
    "landmarker_number",
    "reference",
    "place_in_crop",
    "colours",
    "outside_s",
)


def exchange_later(first: Player, second: Player, frame: Frame) -> None:
    """Give each of two players what was seen of the other after a frame, and all that follows.

    Each keeps the track id: it stands for what was seen until then.
    """
    cuts = [bisect_right(player.frames, frame.index) for player in (first, second)]
    for name in ("frames", "times"):
        mine, theirs = getattr(first, name), getattr(second, name)
        mine[cuts[0] :], theirs[cuts[1] :] = theirs[cuts[1] :], mine[cuts[0] :]
    first.poses.exchange(cuts[0], second.poses, cuts[1])
    for name in _FOLLOWS_LATEST:
        mine, theirs = getattr(first, name), getattr(second, name)
        setattr(first, name, theirs)
        setattr(second, name, mine)
    for player in (first, second):
        seen = np.flatnonzero(player.poses.seen)
        player.last_seen, player.times_seen = int(seen[-1]), len(seen)
        # Colours were learned of both.
        player.colours_sure = False
