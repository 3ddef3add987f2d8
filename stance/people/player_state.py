"""What is known of a player while followed: poses so far, and where the next is expected."""

from bisect import bisect_left, bisect_right
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from stance.people.candidates import Anchor
from stance.people.landmarks import FEET, LANDMARKS, LEFT_HIP, RIGHT_HIP, Box, Pose
from stance.people.pose_history import PoseHistory
from stance.people.track import Track
from stance.types import FloatArray
from stance.video.frame import Frame

HIPS = [LEFT_HIP, RIGHT_HIP]

# Of how many last looks the tallest pose says how large a player is.
_RECENT = 12

# Who runs one way may stop: motion is trusted for so long only, seconds.
_LONGEST_MOTION = 0.3

# Over so many seconds the ups and downs of a step do not count as motion.
_MOTION_STEP = 0.25

# A player not seen for so long is lost: no longer looked for in every frame; and after so long
# somebody else may take the place.
LOST = 0.8


class TrackId(NamedTuple):
    """Which track of a run: the half whose players are followed, and its how-manieth track there.

    Never given to another player, also not where one takes the place of another.
    """

    half: str
    number: int


@dataclass(eq=False)
class Player:
    """One person on the half: looks so far and the colours they wear.

    Colours are not sure while the player has only been seen partly behind the partner. `outside` is
    for how many seconds longer they stood beside the half than on it, `times_seen` the number of
    looks that show them. `landmarker_number` says which steady landmarker of the half follows them.
    """

    track_id: TrackId
    landmarker_number: int
    colours: FloatArray
    poses: PoseHistory
    colours_sure: bool = True
    frames: list[int] = field(default_factory=list)
    times: list[float] = field(default_factory=list)
    last: int = -1
    anchor: Anchor | None = None
    glance: Anchor | None = None
    region: tuple[float, float] = (0.5, 0.5)
    outside: float = 0.0
    times_seen: int = field(init=False)
    place: tuple[Pose, FloatArray] | None = None

    def __post_init__(self) -> None:
        self.times_seen = sum(self.poses.seen)

    def add(self, frame: Frame, pose: Pose | None) -> None:
        """Note a look at a later frame."""
        self.frames.append(frame.index)
        self.times.append(frame.time_s)
        self.poses.append(pose)
        if pose is not None:
            self.last = len(self.poses) - 1
            self.times_seen += 1
            self.poses.put_aside(pose)

    def put_earlier(self, frame: Frame, pose: Pose) -> None:
        """Note a look at a frame before the last one, in the place of what was noted for it."""
        place, noted = self._place(frame.index)
        self.times_seen += not noted or self.poses[place] is None
        if noted:
            self.poses[place] = pose
            return
        self.frames.insert(place, frame.index)
        self.times.insert(place, frame.time_s)
        self.poses.insert(place, pose)
        self.last += place <= self.last

    def pose_at(self, frame: int) -> Pose | None:
        """The pose noted for a frame, if there is one."""
        place, noted = self._place(frame)
        return self.poses[place] if noted else None

    def _place(self, frame: int) -> tuple[int, bool]:
        """Number that a look at a frame has or would have, and whether it has one."""
        place = bisect_left(self.frames, frame)
        return place, place < len(self.frames) and self.frames[place] == frame

    def mend(self, pose: Pose) -> None:
        """Put a better pose in the place of the last one, wherever that was kept."""
        known = self.last_pose
        for number in range(self.last, -1, -1):
            if self.poses[number] is known:
                self.poses[number] = pose
            elif self.poses[number] is not None:
                break

    @property
    def seen_at(self) -> float:
        """When the player was last seen, seconds."""
        return self.times[self.last]

    @property
    def last_pose(self) -> Pose:
        """The last pose seen."""
        pose = self.poses[self.last]
        assert pose is not None
        return pose

    @property
    def largest_side(self) -> float:
        """Side of the square around the tallest of the last poses, pixels.

        The last one may have been half hidden, or a crouch.
        """
        return max(pose.box.side for pose in self._recent_poses)

    def moved(self, time_s: float) -> FloatArray:
        """How far the hips should have come since the last pose, (2,) pixels."""
        since = time_s - self.seen_at
        if since > LOST:
            return np.zeros(2)
        for number in range(self.last - 1, -1, -1):
            known, step = self.poses[number], self.seen_at - self.times[number]
            if step > LOST:
                break
            if known is not None and step >= _MOTION_STEP:
                motion = (self.last_pose.pixels - known.pixels)[HIPS].mean(axis=0)
                return np.asarray(motion / step * min(since, _LONGEST_MOTION))
        return np.zeros(2)

    def expected_pose(self, time_s: float) -> Pose:
        """Return the last pose, moved to where the player should be."""
        return self.last_pose.moved(*self.moved(time_s))

    def expected(self, time_s: float) -> Box:
        """Return the square in which the player should be."""
        return self.expected_pose(time_s).box

    @property
    def lowest(self) -> float:
        """How far down the picture the feet were in the last looks, pixels.

        Of two players the one lower down is nearer to the camera.
        """
        return float(np.median([pose.pixels[FEET, 1].max() for pose in self._recent_poses]))

    @property
    def _recent_poses(self) -> list[Pose]:
        """The poses of the last looks up to the last one seen."""
        recent = self.poses[max(self.last + 1 - _RECENT, 0) : self.last + 1]
        return [pose for pose in recent if pose is not None]

    def track(self, first: int = 0) -> Track:
        """Return the looks from number `first` on as a track."""
        looks = len(self.frames[first:])
        pixels, visibility, world = (
            np.full((looks, LANDMARKS, *values), np.nan) for values in ((2,), (), (3,))
        )
        # One at a time: all of a long clip's poses would fill memory.
        for look in range(looks):
            pose = self.poses[first + look]
            if pose is not None:
                pixels[look], visibility[look], world[look] = (
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


def exchange_later(one: Player, two: Player, frame: Frame) -> None:
    """Give each of two players the other's looks after a frame, and all that follows from them."""
    cuts = [bisect_right(player.frames, frame.index) for player in (one, two)]
    for name in ("frames", "times"):
        mine, theirs = getattr(one, name), getattr(two, name)
        mine[cuts[0] :], theirs[cuts[1] :] = theirs[cuts[1] :], mine[cuts[0] :]
    one.poses.exchange(cuts[0], two.poses, cuts[1])
    for name in ("landmarker_number", "anchor", "glance", "region", "colours", "outside"):
        mine, theirs = getattr(one, name), getattr(two, name)
        setattr(one, name, theirs)
        setattr(two, name, mine)
    for player in (one, two):
        seen = np.flatnonzero(player.poses.seen)
        player.last, player.times_seen = int(seen[-1]), len(seen)
        # Colours were learned of both.
        player.colours_sure = False
