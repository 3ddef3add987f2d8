"""Follow the players of a half court through a clip, each with one identity.

A few times a second every player is looked at in the square around where they should be by now.
Poses are given to players all at once (`scipy.optimize.linear_sum_assignment`) by their place
on the floor, their motion and the colours of shirt and shorts, so that a crossing, a reach, a
partner in front or a short absence does not change who is who. Who stands before or behind the
partner is looked at past them, painted over. New players are looked for everywhere at the start,
then where something moves on the half court and behind who is known; once both are known, the last
looks that showed one of them are made once more.
"""


import threading
from bisect import bisect_left, bisect_right
from collections import deque
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import TypeVar, overload

import cv2
import numpy as np
import numpy.typing as npt
import scipy

from stance.aside import Aside
from stance.body import base_on_floor
from stance.camera import Camera, floor_point, project
from stance.court import COURT_LENGTH, COURT_WIDTH
from stance.players import (
    FEET,
    MARGIN_FOLLOWED,
    MARGIN_FOUND,
    Track,
    on_half,
    search_boxes,
    search_near,
    stands_on_half,
    widened,
)
from stance.poses import (
    CROP_FACTOR,
    LANDMARKS,
    LEFT_ANKLE,
    LEFT_ELBOW,
    LEFT_HEEL,
    LEFT_HIP,
    LEFT_KNEE,
    LEFT_SHOULDER,
    LEFT_TOE,
    LEFT_WRIST,
    NOSE,
    RIGHT_ANKLE,
    RIGHT_ELBOW,
    RIGHT_HEEL,
    RIGHT_HIP,
    RIGHT_KNEE,
    RIGHT_SHOULDER,
    RIGHT_TOE,
    RIGHT_WRIST,
    Box,
    Landmarker,
    Model,
    Pose,
    box_around,
)
from stance.video import Frame

FloatArray = npt.NDArray[np.float64]
ImageArray = npt.NDArray[np.uint8]
Item = TypeVar("Item")
Done = TypeVar("Done")

# Doubles: a half court holds two players.
MOST_PLAYERS = 2

_HIPS = [LEFT_HIP, RIGHT_HIP]
_TRUNK = [LEFT_SHOULDER, RIGHT_SHOULDER, LEFT_HIP, RIGHT_HIP]
# What of a body is painted over: arms and legs as lines this thick, against the height of the
# pose, the trunk, and the head around the first landmarks.
_LIMBS = (
    (LEFT_SHOULDER, LEFT_ELBOW, LEFT_WRIST), (RIGHT_SHOULDER, RIGHT_ELBOW, RIGHT_WRIST),
    (LEFT_HIP, LEFT_KNEE, LEFT_ANKLE, LEFT_HEEL, LEFT_TOE),
    (RIGHT_HIP, RIGHT_KNEE, RIGHT_ANKLE, RIGHT_HEEL, RIGHT_TOE))
_LIMB, _HEAD = 0.08, 11
# In loose clothes limbs are so thick. Who is seen past somebody may be made of what of these has
# not been painted over: unless the head shows and they are so far apart, or where they should be,
# or they are farther apart, as parts of a height, or no more than this part would be covered. On
# tune clips poses made of leftovers had covered heads, were at most 0.28 apart and at least 0.8
# covered.
_CLOTHED, _APART, _FAR_APART, _MOST_HIDDEN = 0.2, 0.2, 0.35, 0.6

# A square is compared with itself at about this size, pixels; grey levels from which it has
# changed; and the least whole number by which it is reduced, in a fifth of the time that a broken
# one takes.
_GLANCE, _UNCHANGED, _WHOLE_FROM = 96, 16.0, 3

# The model looks at a region that is off by this part of the square's side: beside the person.
_BESIDE = 0.07

# A pose further from the middle of the square it was looked for in than this part of its side
# is another person's.
_JUMP = 0.35
# Squares in which to look for one who is not there, or who may be there, against the usual one:
# small and partly covered people are seen far more often in these (docs/accuracy.md).
_WIDE, _WIDER = 1.6, 2.2
# Of how many last looks the tallest pose says how large a player is.
_RECENT = 12
# Poses of so many looks stay at hand; what is asked of a player while following goes no further
# back, but where a spell is long.
_AT_HAND = 100
# Poses whose trunks are nearer to each other than this part of a player's height are of the
# same person.
_SAME_PERSON = 0.1
# Poses whose trunks are further apart than this part of the taller one's height are of two.
_TWO_PEOPLE = 0.3
# Between two looks a player who hardly moved is looked for this near to the line between them.
_NEAR_LINE = 0.15

# What a difference in colours costs, in metres, and how far a player can come: metres at once
# and metres a second (a sprint on court), up to across the half.
_COLOUR_METRES = 6.0
_REACH_AT_ONCE, _REACH_SPEED, _LONGEST_REACH = 0.9, 4.0, 4.5
# How much a difference of floor places counts beside the one in the picture, up to how far.
_DEPTH_SHARE, _MOST_DEPTH = 0.3, 3.0
# Players whose squares' middles are nearer than this part of the side are looked at past each
# other, in squares so much larger than the usual one.
_OVERLAPPING, _PAST = 0.5, 1.3
# A person is somebody else if the colours differ by more than this (Hellinger distance).
_OTHER_COLOURS = 0.5
# Who is as far away as can be must look like the player: metres that colours may cost then.
_MOST_FOR_COLOURS = 1.8
# Near the partner, whose colours are nearer to the partner's by this is the partner; whose are
# about as near to both, and differ by more than that, is a mixture of both.
_LIKE_PARTNER, _UNSURE_COLOURS = 0.1, 0.33
# What a difference counts from colours that are not sure.
_UNSURE_SHARE = 0.5
# Players whose squares' middles are nearer than this part of the side may be crossing; further
# apart than the second, nobody takes the one for the other.
_CROSSING, _CLEAR = 0.4, 1.0
# Who is nearer than this part of the side to where a player should be may hide them.
_IN_FRONT = 0.7
# How much of a new look goes into the remembered colours, if these differ by no more than one's
# own do, or both players are seen apart: a look that has strayed to the partner does not teach the
# partner's.
_COLOUR_SHARE, _OWN_COLOURS = 0.1, 0.3
# Height that stands for a player where there is no court, metres.
_PLAYER_METRES = 1.5

# Who runs one way may stop: motion is trusted for so long only, seconds.
_LONGEST_MOTION = 0.3
# Over so many seconds the ups and downs of a step do not count as motion.
_MOTION_STEP = 0.25
# A player not seen for so long is lost: no longer looked for in every frame; and after so long
# somebody else may take the place.
_LOST = 0.8
# Who is seen beside the half for so many seconds more than on it is no player; a look counts for so
# many seconds at most.
_MOST_OUTSIDE, _LONGEST_LOOK = 1.0, 0.3
# After so many seconds nobody is searched where they were lost any more.
_GONE = 4.0
_REPLACED = 4.0
# Seconds between searches for a missing player, doubled after each that finds nobody.
_SEARCH_PAUSE, _LONGEST_PAUSE = 0.25, 1.0
# Without anybody known the whole half is searched; this pause is doubled up to the longest.
_WHOLE_PAUSE, _LONGEST_WHOLE_PAUSE = 0.5, 8.0
_PROPOSALS = 3
# The latest frames in which only one of two players was seen are kept, in the first seconds of that
# one and while the other is lost, to be looked at once more when the other is found, until that
# fails so many times: at most so many, and fewer where they hold more than so many bytes.
_MOST_KEPT, _KEPT_BYTES, _START, _MISSED_BACK = 16, 100_000_000, 3.0, 2
# Behind a player who is followed somebody is looked for, in squares so much larger in turn, after
# pauses that grow by a quarter up to the longest. One look in two or three finds who is there.
_BEHIND_FACTORS = (1.6, 1.3, 2.0)
_BEHIND_PAUSE, _BEHIND_GROWTH, _LONGEST_BEHIND_PAUSE = 0.12, 1.25, 8.0
# Places remembered in which something seems to move and nobody was seen.
_MOST_EMPTY = 12
_SMALL_WIDTH = 480
# Seconds between frames that the still background is made of.
_BACKGROUND_PAUSE = 0.25


class Poses(Sequence[Pose | None]):
    """A player's poses, one for each look; None where the player was not seen.

    Those of long ago are put aside. They come back as copies.

    Parameters
    ----------
    aside : where poses are put
    poses : those of the first looks
    """

    def __init__(self, aside: Aside, poses: Iterable[Pose | None] = ()) -> None:
        self._aside = aside
        # Poses, or the places of those that are put aside.
        self._entries: list[Pose | int | None] = list(poses)
        # All before are put aside; the pose that was last put there, and its place.
        self._first_here = 0
        self._latest: tuple[Pose, int] | None = None

    def __len__(self) -> int:
        return len(self._entries)

    @overload
    def __getitem__(self, number: int) -> Pose | None: ...

    @overload
    def __getitem__(self, number: slice) -> list[Pose | None]: ...

    def __getitem__(self, number: int | slice) -> Pose | None | list[Pose | None]:
        if isinstance(number, slice):
            return [self._pose(entry) for entry in self._entries[number]]
        return self._pose(self._entries[number])

    def __setitem__(self, number: int, pose: Pose | None) -> None:
        self._entries[number] = pose

    def _pose(self, entry: Pose | int | None) -> Pose | None:
        """What an entry stands for."""
        return self._aside.get(entry) if isinstance(entry, int) else entry

    @property
    def seen(self) -> list[bool]:
        """Whether the player was seen, for each look."""
        return [entry is not None for entry in self._entries]

    def append(self, pose: Pose | None) -> None:
        """Add the pose of a later look."""
        self._entries.append(pose)

    def insert(self, number: int, pose: Pose) -> None:
        """Put the pose of a look between two others."""
        self._entries.insert(number, pose)

    def exchange(self, first: int, other: "Poses", first_of_other: int) -> None:
        """Exchange all poses from a number on with another player's."""
        mine, theirs = self._entries[first:], other._entries[first_of_other:]
        self._entries[first:], other._entries[first_of_other:] = theirs, mine
        self._first_here = min(self._first_here, first)
        other._first_here = min(other._first_here, first_of_other)

    def put_aside(self, last: Pose) -> None:
        """Put poses aside that are far back, but for the last one seen.

        A player at rest keeps the pose, and whether it is the same object is asked for.
        """
        for number in range(self._first_here, len(self._entries) - _AT_HAND):
            pose = self._entries[number]
            if pose is last:
                return
            if isinstance(pose, Pose):
                if self._latest is None or self._latest[0] is not pose:
                    self._latest = pose, self._aside.put(pose)
                self._entries[number] = self._latest[1]
            self._first_here = number + 1


@dataclass(eq=False)
class Player:
    """One person on the half: looks so far and the colours they wear.

    Colours are not sure while the player has only been seen partly behind the partner. `outside` is
    for how many seconds longer they stood beside the half than on it, `looks_seen` the number of
    looks that show them.
    """

    slot: int
    colours: FloatArray
    poses: Poses
    colours_sure: bool = True
    frames: list[int] = field(default_factory=list)
    times: list[float] = field(default_factory=list)
    last: int = -1
    anchor: "_Anchor | None" = None
    glance: "_Anchor | None" = None
    region: tuple[float, float] = (0.5, 0.5)
    outside: float = 0.0
    looks_seen: int = field(init=False)
    place: tuple[Pose, FloatArray] | None = None

    def __post_init__(self) -> None:
        self.looks_seen = sum(self.poses.seen)

    def add(self, frame: Frame, pose: Pose | None) -> None:
        """Note a look at a later frame."""
        self.frames.append(frame.index)
        self.times.append(frame.time_s)
        self.poses.append(pose)
        if pose is not None:
            self.last = len(self.poses) - 1
            self.looks_seen += 1
            self.poses.put_aside(pose)

    def put_earlier(self, frame: Frame, pose: Pose) -> None:
        """Note a look at a frame before the last one, in the place of what was noted for it."""
        place, noted = self._place(frame.index)
        self.looks_seen += not noted or self.poses[place] is None
        if noted:
            self.poses[place] = pose
            return
        self.frames.insert(place, frame.index)
        self.times.insert(place, frame.time_s)
        self.poses.insert(place, pose)
        self.last += place <= self.last

    def at(self, frame: int) -> Pose | None:
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
        if since > _LOST:
            return np.zeros(2)
        for number in range(self.last - 1, -1, -1):
            known, step = self.poses[number], self.seen_at - self.times[number]
            if step > _LOST:
                break
            if known is not None and step >= _MOTION_STEP:
                motion = (self.last_pose.pixels - known.pixels)[_HIPS].mean(axis=0)
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
        recent = self.poses[max(self.last + 1 - _RECENT, 0):self.last + 1]
        return [pose for pose in recent if pose is not None]

    def track(self, first: int = 0) -> Track:
        """Return the looks from number `first` on as a track."""
        looks = len(self.frames[first:])
        pixels, visibility, world = (
            np.full((looks, LANDMARKS, *values), np.nan) for values in ((2,), (), (3,)))
        # One at a time: all of a long clip's poses would fill memory.
        for look in range(looks):
            pose = self.poses[first + look]
            if pose is not None:
                pixels[look], visibility[look], world[look] = (
                    pose.pixels, pose.visibility, pose.world)
        return Track(np.array(self.frames[first:], int), np.array(self.times[first:], float),
                     pixels, visibility, world)


def exchange_later(one: Player, two: Player, frame: Frame) -> None:
    """Give each of two players the other's looks after a frame, and all that follows from them."""
    cuts = [bisect_right(player.frames, frame.index) for player in (one, two)]
    for name in ("frames", "times"):
        mine, theirs = getattr(one, name), getattr(two, name)
        mine[cuts[0]:], theirs[cuts[1]:] = theirs[cuts[1]:], mine[cuts[0]:]
    one.poses.exchange(cuts[0], two.poses, cuts[1])
    for name in ("slot", "anchor", "glance", "region", "colours", "outside"):
        mine, theirs = getattr(one, name), getattr(two, name)
        setattr(one, name, theirs)
        setattr(two, name, mine)
    for player in (one, two):
        seen = np.flatnonzero(player.poses.seen)
        player.last, player.looks_seen = int(seen[-1]), len(seen)
        # Colours were learned of both.
        player.colours_sure = False


@dataclass(frozen=True)
class _Anchor:
    """What the square around a pose looked like, small and grey, when the pose was seen."""

    pose: Pose
    picture: npt.NDArray[np.float32]
    sure: bool = True


@dataclass(frozen=True)
class _Empty:
    """A square in which nobody was seen, and what it looked like then, small and grey."""

    box: Box
    picture: npt.NDArray[np.float32]


@dataclass(frozen=True)
class _Candidate:
    """Somebody seen in a frame: pose, place on the floor in metres, colours worn.

    `sure` is whether the pose model looked where the person is, and not beside.
    """

    pose: Pose
    place: FloatArray
    colours: FloatArray
    sure: bool = True


class Landmarkers:
    """The pose models of one run: one to search with, and one for each player to follow."""

    def __init__(self, model: Model) -> None:
        self._model: Model = model
        self._finder: Landmarker | None = None
        self._steady: dict[tuple[str, int], Landmarker] = {}
        # Whoever needs the one does not wait for the other.
        self._loading_finder, self._loading_steady = threading.Lock(), threading.Lock()

    def load(self, half: str) -> None:
        """Load the models that are needed first: to search, and to follow who is found."""
        _ = self.finder, self.steady(half, 0)

    @property
    def finder(self) -> Landmarker:
        """Finds several people in a crop looked at by itself."""
        with self._loading_finder:
            if self._finder is None:
                self._finder = Landmarker(self._model, people=MOST_PLAYERS + 1)
            return self._finder

    def steady(self, half: str, slot: int) -> Landmarker:
        """Follows the player in a slot of a half."""
        with self._loading_steady:
            if (half, slot) not in self._steady:
                self._steady[half, slot] = Landmarker(self._model, steady=True)
            return self._steady[half, slot]

    def close(self) -> None:
        """Close them all."""
        for landmarker in (self._finder, *self._steady.values()):
            if landmarker is not None:
                landmarker.__exit__(None, None, None)


def cut_out(frame: Frame, box: Box, factor: float = 1.0) -> tuple[ImageArray, int, int] | None:
    """Cut a square, `factor` times as large, out of a frame; where it is in the picture."""
    width, height = frame.size
    larger = widened(box, factor)
    left, top = max(int(larger.x) - 3, 0), max(int(larger.y) - 3, 0)
    right = min(int(larger.x + larger.side) + 4, width)
    bottom = min(int(larger.y + larger.side) + 4, height)
    if right - left < 8 or bottom - top < 8:
        return None
    return frame.part(left, top, right, bottom), left, top


def look_in(landmarker: Landmarker, frame: Frame, box: Box,
            others: Sequence[Pose] = (), sought: Pose | None = None) -> list[Pose]:
    """Look at a square of a frame, past others; only that part of it is converted.

    Of two people one behind the other the pose model sees the one in front only. Once they are
    painted over in the square's middle colour, it sees who is behind. Where somebody sought
    should be in front of the others nothing is painted.
    """
    cut = cut_out(frame, box)
    if cut is None:
        return []
    image, left, top = cut
    covered = body_mask(image.shape[:2], [pose.moved(-left, -top).pixels for pose in others])
    if sought is not None:
        covered &= ~body_mask(image.shape[:2], [sought.moved(-left, -top).pixels], _CLOTHED)
    if covered.any() and not covered.all():
        image = image.copy()
        image[covered] = middle_colour(image, ~covered)
    found = landmarker.detect_all(image, Box(box.x - left, box.y - top, box.side))
    return [pose.moved(left, top) for pose in found]


def middle_colour(image: ImageArray, where: npt.NDArray[np.bool_]) -> FloatArray:
    """Median of the colours of some pixels, counted, which takes a tenth of `numpy.median`'s time.

    Parameters
    ----------
    image : (height, width, 3)
    where : (height, width) whether a pixel counts; some must

    Returns
    -------
    (3,)
    """
    mask = where.astype(np.uint8)
    counts = np.stack([cv2.calcHist([image], [channel], mask, [256], [0, 256]).ravel()
                       for channel in range(3)])
    up_to, pixels = counts.cumsum(axis=1, dtype=int), int(mask.sum())
    middle = [(up_to <= rank).sum(axis=1) for rank in ((pixels - 1) // 2, pixels // 2)]
    return np.asarray(np.mean(middle, axis=0))


def body_mask(shape: tuple[int, int], poses: Sequence[FloatArray],
              thickness: float = _LIMB) -> npt.NDArray[np.bool_]:
    """Tell which pixels the bodies of people cover, about.

    Parameters
    ----------
    shape : (height, width) pixels
    poses : each (33, 2) pixels
    thickness : of arms and legs, against the height of the pose

    Returns
    -------
    (height, width)
    """
    mask = np.zeros(shape, np.uint8)
    for pixels in poses:
        height = float(np.ptp(pixels[:, 1]))
        points = np.round(np.clip(pixels, -1e4, 1e4)).astype(np.int32)
        for limb in _LIMBS:
            cv2.polylines(mask, [points[list(limb)]], False, 255, max(2, round(thickness * height)))
        cv2.fillConvexPoly(mask, np.asarray(cv2.convexHull(points[_TRUNK]), np.int32), 255)
        head = tuple(int(v) for v in points[:_HEAD].mean(axis=0))
        cv2.circle(mask, head, max(1, round(thickness * height)), 255, -1)
    return mask > 0


def hidden(pose: Pose, others: Sequence[Pose]) -> tuple[float, bool]:
    """Share of a body that others, in loose clothes, cover if they stand in front of it.

    Parameters
    ----------
    pose : Pose
    others : of those who may stand in front

    Returns
    -------
    The share, 0 to 1, and whether the nose is covered
    """
    low = pose.pixels.min(axis=0)
    zoom = (_GLANCE - 1) / float(np.ptp(pose.pixels, axis=0).max())
    places = [(one.pixels - low) * zoom for one in (pose, *others)]
    shape = (_GLANCE, _GLANCE)
    body, covered = body_mask(shape, places[:1]), body_mask(shape, places[1:], _CLOTHED)
    column, row = np.round(places[0][NOSE]).astype(int)
    return float((body & covered).sum() / max(body.sum(), 1)), bool(covered[row, column])


def _told_apart(pose: Pose, others: Sequence[Pose], expected: Pose | None = None) -> bool:
    """Whether a pose seen past others is not made of what is left of them.

    Somebody whose head shows is told apart also where they are `expected`.
    """
    if not others:
        return True
    apart = min(float(np.linalg.norm((pose.pixels - other.pixels).mean(axis=0)))
                / float(np.ptp(other.pixels[:, 1])) for other in others)
    if apart >= _FAR_APART:
        return True
    share, nose = hidden(pose, others)
    return share <= _MOST_HIDDEN or (not nose and (
        apart >= _APART or (expected is not None and same_person(pose, expected))))


def each(workers: Executor, work: Callable[[Item], Done], items: Sequence[Item]) -> list[Done]:
    """Do some work on each item, at the same time where there are several.

    To hand work over to a thread and back takes up to milliseconds while others wait for Python.
    """
    if len(items) < 2:
        return [work(item) for item in items]
    return list(workers.map(work, items))


class Follower:
    """Follows the players of one half.

    Parameters
    ----------
    camera : Camera or None
        In the frame of the half; without it the one largest person is followed.
    image_size : (width, height) pixels
    half : "near" or "far"
    landmarkers : of the run
    aside : where poses of long ago are put
    workers : looks at the players at the same time; what it finds does not depend on it
    may_rest : whether a player whose square has not changed keeps the pose without a look
    """

    def __init__(self, camera: Camera | None, image_size: tuple[int, int], half: str,
                 landmarkers: Landmarkers, aside: Aside, workers: Executor,
                 may_rest: bool) -> None:
        self.camera = camera
        self.may_rest = may_rest
        self.half = half
        self.players: list[Player] = []
        self._landmarkers = landmarkers
        self._aside = aside
        self._workers = workers
        self._everywhere = search_boxes(camera, image_size)
        self._most = MOST_PLAYERS if camera is not None else 1
        self._pause, self._search_at = _SEARCH_PAUSE, 0.0
        # Where something moved and nobody was seen: to be looked at once more.
        self._suspected: list[Box] = []
        self._empty: list[_Empty] = []
        self._one_seen: deque[Frame] = deque(maxlen=int(np.clip(
            _KEPT_BYTES // (3 * image_size[0] * image_size[1]), 4, _MOST_KEPT)))
        self._behind_pause, self._behind_at, self._behind_tries = _BEHIND_PAUSE, 0.0, 0
        self._whole_pause, self._whole_at = _WHOLE_PAUSE, 0.0
        self._motion = None if camera is None else _Motion(camera, image_size)

    def step(self, frame: Frame) -> None:
        """Look for all players in the next frame."""
        now = frame.time_s
        followed = [p for p in self.players if now - p.seen_at <= _LOST]
        candidates: list[_Candidate] = []
        given: dict[Player, _Candidate] = {}

        def note(more: Sequence[_Candidate]) -> None:
            nonlocal given
            if more:
                candidates.extend(more)
                given = self._assigned(_different(candidates), now)

        # Beside the looks, which take longer.
        background = (None if self._motion is None
                      else self._workers.submit(self._motion.watch, frame))
        note(self._looked_again(frame, followed))
        if background is not None:
            background.result()
        missed = [player for player in followed if player not in given]
        if missed:
            note(self._looked_wider(frame, missed, given))
        if len(followed) < self._most and now >= self._search_at:
            note(self._searched(frame, followed, candidates))
        elif any(player not in given for player in missed):
            note(self._where_it_moves(frame, candidates))
        if len(followed) < self._most:
            note(self._searched_behind(frame, _different(candidates)))
        for player in self.players:
            if player in given and now - player.seen_at > _LOST:
                self._whole_pause, self._whole_at = _WHOLE_PAUSE, now
            pose = given[player].pose if player in given else None
            if pose is not None and pose is not player.last_pose and self._in_doubt(player, frame):
                player.mend(pose)
            if pose is not None and self.may_rest and (
                    player.anchor is None or player.anchor.pose is not pose):
                picture = _glance(frame, pose.box)
                player.anchor = None if picture is None else _Anchor(
                    pose, picture, given[player].sure)
            player.add(frame, pose)
            if pose is not None and self.camera is not None:
                since = min(player.times[-1] - player.times[-2], _LONGEST_LOOK)
                inside = on_half(given[player].place, MARGIN_FOUND)
                player.outside += -since if inside else since
        # Who mostly stands beside the court is no player, and takes no player's place.
        self.players = [p for p in self.players if p.outside <= _MOST_OUTSIDE]
        known = [player for player in self.players if player in given]
        for candidate in _different(candidates):
            if not any(candidate is other for other in given.values()):
                self._welcome(candidate, frame)
        self._keep_or_look_back(frame, known)
        both = len(given) == MOST_PLAYERS and _two_people(*(c.pose for c in given.values()))
        for player in self.players:
            # Looking back may have given the look to the other one.
            mine = player in given and given[player].pose is player.last_pose
            if mine and (both or not self._covered(player)):
                differ = _colour_distance(player.colours, given[player].colours)
                if player.colours_sure and differ > _OWN_COLOURS and not both:
                    continue
                share = _COLOUR_SHARE if player.colours_sure else 1.0
                player.colours = ((1 - share) * player.colours
                                  + share * given[player].colours)
                player.colours_sure = True

    @property
    def unsure(self) -> bool:
        """Whether the next look should come soon: somebody was just missed, or players cross."""
        followed = [p for p in self.players if p.times[-1] - p.seen_at <= _LOST]
        boxes = [p.last_pose.box for p in followed]
        return (any(p.seen_at < p.times[-1] for p in followed)
                or (len(boxes) == 2 and _closer(boxes[0], boxes[1], _CROSSING)))

    @property
    def clear(self) -> bool:
        """Whether it is plain who is who: nobody is near somebody else."""
        boxes = [player.last_pose.box for player in self.players]
        return not any(_closer(one, two, _CLEAR) for one, two in combinations(boxes, 2))

    def settled(self, frame: Frame) -> bool:
        """Whether somebody has come to rest since the last look, as glances at the squares say."""
        return any([self._comes_to_rest(player, frame) for player in self.players])

    def _comes_to_rest(self, player: Player, frame: Frame) -> bool:
        """Whether a square is as at the last glance, but not as at the last look."""
        anchor = player.anchor
        if not self.may_rest or anchor is None or anchor.pose is not player.last_pose:
            return False
        picture = _glance(frame, anchor.pose.box)
        if picture is None:
            return False
        before = player.glance
        if before is None or before.pose is not anchor.pose:
            before = anchor
        player.glance = _Anchor(anchor.pose, picture)
        return _same(picture, before.picture) and not _same(picture, anchor.picture)

    def note_rest(self, player: Player, first: int, frames: Sequence[Frame]) -> bool:
        """Note until when a player stays as in a look, and from when as in the next one.

        Parameters
        ----------
        player : one of `players`
        first : number of the first look; the player is seen in both
        frames : from the frame of the first look to that of the next

        Returns
        -------
        Whether there was anything to note
        """
        start, end = player.poses[first], player.poses[first + 1]
        assert start is not None and end is not None
        left, arrived = _last_alike(frames, start), _last_alike(frames[::-1], end)
        if arrived is not None and (left is None or left.index < arrived.index):
            player.put_earlier(arrived, end)
        if left is not None:
            player.put_earlier(left, start)
        return left is not None or arrived is not None

    def look_between(self, player: Player, first: int, frames: Sequence[Frame]) -> None:
        """Look at frames between a look and the next, in both of which the player is seen.

        Parameters
        ----------
        player : one of `players`
        first : number of the look before the frames
        frames : in the clip's order
        """
        start, end = player.poses[first], player.poses[first + 1]
        times = player.times[first], player.times[first + 1]
        assert start is not None and end is not None
        landmarker = self._landmarkers.steady(self.half, player.slot)
        for frame in frames:
            share = (frame.time_s - times[0]) / (times[1] - times[0])
            pixels = start.pixels + share * (end.pixels - start.pixels)
            box = box_around(pixels)
            for pose in look_in(landmarker, frame, box):
                if _trunks_apart(pose.pixels, pixels) <= _NEAR_LINE * box.side and (
                        self.camera is None
                        or stands_on_half(self.camera, pose.pixels, MARGIN_FOLLOWED)):
                    player.put_earlier(frame, pose)

    def _looked_again(self, frame: Frame, followed: Sequence[Player]) -> list[_Candidate]:
        """Look at each player around where they should be, unless they have not moved at all."""
        still = [player for player in followed
                 if not self._covered(player) and self._unchanged(player, frame)]
        again = [player for player in still if self._in_doubt(player, frame)]
        resting = [self._resting(player) for player in still if player not in again]
        for player in again:
            box = player.last_pose.box
            resting += self._counting(
                frame, look_in(self._landmarkers.finder, frame, box), box, MARGIN_FOLLOWED
            ) or [self._resting(player)]
        followed = [player for player in followed if player not in still]
        if len(followed) == MOST_PLAYERS:
            one, two = (player.expected(frame.time_s) for player in followed)
            if _closer(one, two, _OVERLAPPING):
                return resting + self._looked_past(frame, followed)
        looked = each(
            self._workers, lambda player: self._looked_steadily(frame, player), followed)
        return resting + [candidate for some in looked for candidate in some]

    def _looked_steadily(self, frame: Frame, player: Player) -> list[_Candidate]:
        """Look at a player around where they should be, with the model that follows them."""
        box = player.expected(frame.time_s)
        poses = look_in(self._landmarkers.steady(self.half, player.slot), frame, box)
        found = self._counting(frame, poses, box, MARGIN_FOLLOWED)
        return [self._judged(player, box, candidate) for candidate in found]

    def _looked_past(self, frame: Frame, followed: Sequence[Player]) -> list[_Candidate]:
        """Look at two players of whom one may stand before the other, each past the other.

        The model would take arms and legs of the one for the other's.
        """
        now = frame.time_s
        front, rear = sorted(followed, key=lambda player: -player.lowest)
        nearer, farther = front.expected_pose(now), rear.expected_pose(now)
        found = self._look_past(frame, nearer, [farther], in_front=True)
        found = found or self._looked_steadily(frame, front)
        nearer = _nearest(found, nearer) or nearer
        behind = self._look_past(frame, farther, [nearer])
        behind = behind or [
            replace(candidate, colours=colours_worn(frame, candidate.pose, [nearer]))
            for candidate in self._looked_steadily(frame, rear)
            if _told_apart(candidate.pose, [nearer], farther)]
        return found + behind

    def _look_past(self, frame: Frame, expected: Pose, others: Sequence[Pose],
                   in_front: bool = False) -> list[_Candidate]:
        """Look for somebody where they are expected, in front of others or past them."""
        box = expected.box
        poses = look_in(self._landmarkers.finder, frame, widened(box, _PAST), others,
                        expected if in_front else None)
        return self._counting(
            frame, poses, box, MARGIN_FOLLOWED, () if in_front else others, expected)

    def _keep_or_look_back(self, frame: Frame, known: Sequence[Player]) -> None:
        """Keep a frame in which one of two was seen; look at those kept once both are.

        Parameters
        ----------
        frame : in which players have just been seen
        known : those of them who were players before
        """
        seen = [player for player in self.players if player.at(frame.index) is not None]
        if len(seen) == MOST_PLAYERS:
            for player, partner in (seen, seen[::-1]):
                if player not in known or player.poses[-2] is None:
                    self._look_back(player, partner)
        elif len(seen) == 1 and self._most == MOST_PLAYERS and (
                frame.time_s - seen[0].times[0] <= _START
                or any(frame.time_s - p.seen_at <= _GONE for p in self.players if p not in seen)):
            self._one_seen.append(frame)
            return
        self._one_seen.clear()

    def _look_back(self, player: Player, partner: Player) -> None:
        """See who was just found in the frames before, past the partner, and the partner past them.

        While only one of the two was known, what was seen of one may be partly the other's.
        """
        mine, theirs = player.last_pose, partner.last_pose
        in_front = player.lowest > partner.lowest
        missed = 0
        for frame in reversed(self._one_seen):
            known = partner.at(frame.index)
            if known is None or player.at(frame.index) is not None or missed == _MISSED_BACK:
                break
            here, there = self._both(frame, mine, theirs, known, in_front)
            new = player.frames[0] > frame.index
            if new and here is not None and _rather(known, here, there or theirs):
                # Who was followed until here is the one just found: their looks went over.
                exchange_later(player, partner, frame)
                partner.put_earlier(frame, here)
                mine, theirs, in_front = there or theirs, here, not in_front
                if there is not None:
                    player.put_earlier(frame, there)
                continue
            # A partner at rest keeps the pose: another look would seem to be a motion.
            theirs = known if there is None or same_person(there, known) else there
            if here is None or same_person(here, theirs):
                missed += 1
                continue
            mine, missed = here, 0
            player.put_earlier(frame, mine)
            partner.put_earlier(frame, theirs)

    def _both(self, frame: Frame, mine: Pose, theirs: Pose, known: Pose,
              in_front: bool) -> tuple[Pose | None, Pose | None]:
        """See two people in an earlier frame, of whom the poses a moment later are known.

        Parameters
        ----------
        frame : Frame
        mine, theirs : poses a moment later
        known : of the other, in this frame, as it was seen then
        in_front : whether the one stands nearer to the camera than the other

        Returns
        -------
        The pose of the one and, if both are near each other, that of the other; None if not seen
        """
        if not _closer(mine.box, known.box, _OVERLAPPING):
            return _nearest(self._look_past(frame, mine, [known]), mine), None
        if in_front:
            here = _nearest(self._look_past(frame, mine, [known], in_front=True), mine)
            return here, here and _nearest(self._look_past(frame, theirs, [here]), theirs)
        there = _nearest(self._look_past(frame, theirs, [mine], in_front=True), theirs)
        return _nearest(self._look_past(frame, mine, [there or known]), mine), there

    def forget_frames(self) -> None:
        """Let go of the frames kept to be looked at once more."""
        self._one_seen.clear()

    def _looked_wider(self, frame: Frame, missed: Sequence[Player],
                      given: Mapping[Player, _Candidate]) -> list[_Candidate]:
        """Look further around players: who runs comes further than the usual square.

        Whoever else is seen there may stand in front, so they are looked past too.
        """
        found = []
        for player in missed:
            expected = player.expected_pose(frame.time_s)
            box = expected.box
            side = player.largest_side
            wide, wider = (widened(box, factor * side / box.side) for factor in (_WIDE, _WIDER))
            others = [c.pose for c in given.values()
                      if _closer(c.pose.box, wide, _IN_FRONT)]
            looks = [(wide, others), (wider, others)] + ([(wider, [])] if others else [])
            for square, past in looks:
                poses = look_in(self._landmarkers.finder, frame, square, past)
                found += self._counting(
                    frame, poses, square, MARGIN_FOLLOWED, past, expected)
        return found

    def _unchanged(self, player: Player, frame: Frame) -> bool:
        """Whether a player's square looks as it did when the last pose was seen in it."""
        anchor = player.anchor
        if not self.may_rest or anchor is None or anchor.pose is not player.last_pose:
            return False
        picture = _glance(frame, anchor.pose.box)
        return picture is not None and _same(picture, anchor.picture)

    def _in_doubt(self, player: Player, frame: Frame) -> bool:
        """Whether a player has kept still since a look that went beside them."""
        return (player.anchor is not None and not player.anchor.sure
                and self._unchanged(player, frame))

    @staticmethod
    def _judged(player: Player, box: Box, candidate: _Candidate) -> _Candidate:
        """Tell whether the model looked where the person is: where it saw them in the last crop."""
        here = candidate.pose.box
        region = ((here.x + here.side / 2 - box.x) / box.side,
                  (here.y + here.side / 2 - box.y) / box.side)
        away = max(abs(one - two) for one, two in zip(region, player.region, strict=True))
        player.region = region
        return replace(candidate, sure=away <= _BESIDE)

    def _resting(self, player: Player) -> _Candidate:
        """A player who has not moved, as seen before."""
        return _Candidate(player.last_pose, self._last_place(player), player.colours)

    def _last_place(self, player: Player) -> FloatArray:
        """Where a player was last seen: on the floor or, without a court, in the picture."""
        pose = player.last_pose
        if player.place is None or player.place[0] is not pose:
            player.place = pose, (
                pose.pixels[_HIPS].mean(axis=0) if self.camera is None
                else base_on_floor(self.camera, pose.pixels))
        return player.place[1]

    def _searched(self, frame: Frame, followed: Sequence[Player],
                  seen: Sequence[_Candidate]) -> list[_Candidate]:
        """Look for missing players near where they were lost and where something moves."""
        now = frame.time_s
        boxes: list[Box] = []
        proposals: list[Box] = []
        lost = [p for p in self.players if _LOST < now - p.seen_at <= _GONE]
        if (not followed or lost) and now >= self._whole_at:
            boxes += self._everywhere
            self._whole_at = now + self._whole_pause
            self._whole_pause = min(2 * self._whole_pause, _LONGEST_WHOLE_PAUSE)
        else:
            if self._motion is not None:
                proposals = [box for box in self._motion.proposals(
                    [p.last_pose.box for p in followed])
                    if not self._known_empty(frame, box)]
                boxes += self._suspected + [widened(box, _WIDE) for box in proposals]
                # Who is not seen at first is often seen from a little farther away.
                self._suspected = [] if self._suspected else [
                    widened(box, _WIDER) for box in proposals]
            for player in lost:
                place = player.last_pose.pixels[_HIPS].mean(axis=0)
                boxes += search_near(self._everywhere, place, 2)
        found = self._found_in(frame, boxes, [c.pose for c in seen])
        # Who is followed and seen once more is not who was searched.
        new = [c for c in found if not any(same_person(c.pose, s.pose) for s in seen)]
        if new:
            self._suspected = []
        else:
            self._note_empty(frame, proposals)
        missed = len(new) == 0 or (self.camera is not None and not self.players)
        if not missed:
            self._pause = _SEARCH_PAUSE
        elif boxes:
            self._pause = min(2 * self._pause, _LONGEST_PAUSE)
        if self._suspected:
            self._search_at = now
        else:
            self._search_at = now + (self._pause if boxes else _SEARCH_PAUSE)
        if self.camera is None and found:
            found = [max(found, key=lambda c: float(np.ptp(c.pose.pixels[:, 1])))]
        return found

    def _searched_behind(self, frame: Frame, seen: Sequence[_Candidate]) -> list[_Candidate]:
        """Look for somebody behind those seen, now and then; soon after somebody was lost."""
        now = frame.time_s
        if self.camera is None or not seen or now < self._behind_at:
            return []
        lost = any(_LOST < now - player.seen_at <= _GONE for player in self.players)
        factor = _BEHIND_FACTORS[self._behind_tries % len(_BEHIND_FACTORS)]
        self._behind_tries += 1
        others = [candidate.pose for candidate in seen]
        boxes = [widened(pose.box, factor) for pose in others]
        found = self._found_in(frame, boxes, others)
        self._behind_pause = _BEHIND_PAUSE if found or lost else min(
            _BEHIND_GROWTH * self._behind_pause, _LONGEST_BEHIND_PAUSE)
        self._behind_at = now + self._behind_pause
        return found

    def _known_empty(self, frame: Frame, box: Box) -> bool:
        """Whether nobody was seen in about this square before, and it still looks the same."""
        return any(
            _closer(box, other.box, 0.1) and 0.8 < box.side / other.box.side < 1.25
            and (picture := _glance(frame, other.box)) is not None and _same(picture, other.picture)
            for other in self._empty)

    def _note_empty(self, frame: Frame, boxes: Sequence[Box]) -> None:
        """Remember squares in which nobody new was seen."""
        for box in boxes:
            picture = _glance(frame, box)
            if picture is not None:
                self._empty = [*self._empty, _Empty(box, picture)][-_MOST_EMPTY:]

    def _where_it_moves(self, frame: Frame, seen: Sequence[_Candidate]) -> list[_Candidate]:
        """Look where something moves and none of those seen in this frame is."""
        if self._motion is None:
            return []
        known = [c.pose.box for c in seen]
        return self._found_in(
            frame, [widened(box, _WIDE) for box in self._motion.proposals(known)])

    def _found_in(self, frame: Frame, boxes: Sequence[Box],
                  others: Sequence[Pose] = ()) -> list[_Candidate]:
        """Look for people in squares, past others, and once more around each of them.

        Behind the net's tape the second look may show nobody; who is seen alike in two squares is
        there all the same.
        """
        finder = self._landmarkers.finder
        found: list[_Candidate] = []
        once: list[Pose] = []
        for box in boxes:
            for rough in look_in(finder, frame, box, others):
                if self.camera is not None and not stands_on_half(
                        self.camera, rough.pixels, MARGIN_FOUND):
                    continue
                if any(same_person(rough, other.pose) for other in found):
                    continue
                if not _told_apart(rough, others):
                    continue
                again = rough.box
                closer = self._counting(
                    frame, look_in(finder, frame, widened(again, _WIDE), others), again,
                    MARGIN_FOUND, others)
                if not closer and any(same_person(rough, other) for other in once):
                    closer = self._counting(frame, [rough], None, MARGIN_FOUND, others)
                found += closer
                once.append(rough)
        return found

    def _counting(self, frame: Frame, poses: Sequence[Pose], box: Box | None,
                  margin: float, others: Sequence[Pose] = (),
                  expected: Pose | None = None) -> list[_Candidate]:
        """Keep the poses of people who count, and who are near the middle of a square.

        Others may stand in front of them: what they cover says nothing of the colours.
        """
        kept = []
        for pose in poses:
            middle = pose.pixels[_HIPS].mean(axis=0)
            if not _told_apart(pose, others, expected):
                continue
            if box is not None:
                away = np.linalg.norm(middle - (box.x + box.side / 2, box.y + box.side / 2))
                if away > _JUMP * box.side:
                    continue
            if self.camera is None:
                place = middle
            elif stands_on_half(self.camera, pose.pixels, margin):
                place = base_on_floor(self.camera, pose.pixels)
            else:
                continue
            kept.append(_Candidate(pose, place, colours_worn(frame, pose, others)))
        return kept

    def _assigned(self, candidates: Sequence[_Candidate], now: float) -> dict[Player, _Candidate]:
        """Give poses to players so that places, motion and colours fit best over all."""
        if not candidates or not self.players:
            return {}
        impossible = 1e6
        cost = np.full((len(self.players), len(candidates)), impossible)
        differs = np.array([
            [_colour_distance(player.colours, candidate.colours)
             * (1.0 if player.colours_sure else _UNSURE_SHARE) for candidate in candidates]
            for player in self.players])
        apart = np.array([[self._apart(player, candidate, now) for candidate in candidates]
                          for player in self.players])
        for row, player in enumerate(self.players):
            since = now - player.seen_at
            reach = min(_REACH_AT_ONCE + _REACH_SPEED * since, _LONGEST_REACH)
            for column in range(len(candidates)):
                away, differ = apart[row, column], differs[row, column]
                if self._is_partner(row, column, candidates, differs, apart, now):
                    continue
                worth = away + _COLOUR_METRES * differ
                most = reach + _MOST_FOR_COLOURS
                if away <= reach and differ <= _OTHER_COLOURS and worth <= most:
                    cost[row, column] = worth
        rows, columns = scipy.optimize.linear_sum_assignment(cost)
        return {self.players[row]: candidates[column]
                for row, column in zip(rows, columns, strict=True)
                if cost[row, column] < impossible}

    def _is_partner(self, row: int, column: int, candidates: Sequence[_Candidate],
                    differs: FloatArray, apart: FloatArray, now: float) -> bool:
        """Whether a candidate who is where a player's partner is does not wear what they do.

        If somebody else is nearer to where the partner should be, the candidate is not they.
        """
        pose, differ = candidates[column].pose, differs[:, column]
        box = pose.box
        return any(
            other != row and now - player.seen_at <= _LOST
            and differ[row] > np.clip(
                _UNSURE_COLOURS, differ[other] - _LIKE_PARTNER, differ[other] + _LIKE_PARTNER)
            and _closer(box, player.expected(now), 0.7)
            and not any(away < apart[other, column] and _two_people(pose, candidate.pose)
                        for away, candidate in zip(apart[other], candidates, strict=True))
            for other, player in enumerate(self.players))

    def _apart(self, player: Player, candidate: _Candidate, now: float) -> float:
        """How far a candidate is from where a player should be, metres.

        Mostly in the picture's plane: along the viewing direction a floor place is far noisier.
        It counts all the same, as it parts two players of whom one is behind the other.
        """
        expected = player.last_pose.pixels[_HIPS].mean(axis=0) + player.moved(now)
        height = max(np.ptp(player.last_pose.pixels[:, 1]), np.ptp(candidate.pose.pixels[:, 1]))
        middle = candidate.pose.pixels[_HIPS].mean(axis=0)
        away = float(np.linalg.norm(middle - expected)) / float(height) * _PLAYER_METRES
        if self.camera is None:
            return away
        gone = float(np.linalg.norm(candidate.place - self._last_place(player)))
        depth = min(gone, _MOST_DEPTH)
        return away + _DEPTH_SHARE * depth

    def _welcome(self, candidate: _Candidate, frame: Frame) -> None:
        """Take somebody new as a player where a place is free."""
        present = [p for p in self.players if frame.time_s - p.seen_at <= _REPLACED]
        if len(present) >= self._most:
            return
        if self.camera is not None and not stands_on_half(
                self.camera, candidate.pose.pixels, MARGIN_FOUND):
            return
        if any(player.at(frame.index) is not None
               and not _two_people(player.last_pose, candidate.pose)
               and (_colour_distance(player.colours, candidate.colours) < _UNSURE_COLOURS
                    or not _told_apart(candidate.pose, [player.last_pose]))
               for player in present):
            # About where somebody else is, in the same clothes or covered: that one once more.
            return
        taken = {p.slot for p in present}
        slot = next(s for s in range(self._most) if s not in taken)
        player = Player(slot, candidate.colours, Poses(self._aside))
        player.add(frame, candidate.pose)
        self.players.append(player)
        player.colours_sure = not self._covered(player)

    def _covered(self, player: Player) -> bool:
        """Whether a player's square overlaps another's, so that colours may be mixed up."""
        box = player.last_pose.box
        return any(_closer(box, other.last_pose.box, 0.7)
                   for other in self.players if other is not player)


class _Motion:
    """Places on the half court where something has changed against the still background."""

    def __init__(self, camera: Camera, image_size: tuple[int, int]) -> None:
        self._camera = camera
        self._scale = image_size[0] / min(_SMALL_WIDTH, image_size[0])
        self._width = min(_SMALL_WIDTH, image_size[0])
        self._subtractor = cv2.createBackgroundSubtractorMOG2(
            history=150, varThreshold=16, detectShadows=False)
        self._due = -np.inf
        self._waiting: Frame | None = None
        self._changed: ImageArray | None = None

    def watch(self, frame: Frame) -> None:
        """Take a frame in, which is looked at if it is due or asked for."""
        self._waiting = frame
        if frame.time_s >= self._due:
            self._take()

    def _take(self) -> None:
        """Look at the frame that waits."""
        if self._waiting is not None:
            self._due = self._waiting.time_s + _BACKGROUND_PAUSE
            small = cv2.GaussianBlur(self._waiting.brightness(self._width), (3, 3), 0)
            self._changed = np.asarray(self._subtractor.apply(small), np.uint8)
            self._waiting = None

    def proposals(self, known: Sequence[Box]) -> list[Box]:
        """Return squares around what has the height of a person and stands on the half.

        Parameters
        ----------
        known : squares in which players are followed already
        """
        self._take()
        if self._changed is None:
            return []
        # Parts of a person that look like the floor leave gaps, mostly one above the other.
        closed = cv2.morphologyEx(
            (self._changed > 0).astype(np.uint8), cv2.MORPH_CLOSE, np.ones((11, 5)))
        count, _, stats, _ = cv2.connectedComponentsWithStats(closed)
        boxes = []
        lefts, tops, widths, heights, areas = (stats[1:count] * self._scale).T
        feet = np.stack([lefts + widths / 2, tops + heights], axis=-1)
        x, y = floor_point(self._camera, feet)[:, :2].T
        may_be = ((areas >= 0.05 * widths * heights / self._scale)
                  & (heights >= 12 * self._scale / 4)
                  & (np.abs(x) <= COURT_WIDTH / 2 + 0.5)
                  & (y >= -COURT_LENGTH / 2 - 0.5) & (y <= 0.3))
        for foot, place, top, height, area in zip(
                feet[may_be], np.stack([x, y], axis=-1)[may_be], tops[may_be], heights[may_be],
                areas[may_be], strict=True):
            head = project(self._camera, np.array([*place, 1.7]))
            tall = float(np.linalg.norm(head - foot))
            if not 0.4 * tall <= height <= 1.6 * tall:
                continue
            # A shadow moves the foot and with it the height expected, but not what has changed.
            side = CROP_FACTOR * float(min(height, tall))
            box = Box(float(foot[0]) - side / 2, float(top + height / 2) - side / 2, side)
            if not any(_closer(box, other, 0.2) for other in known):
                boxes.append((float(area), box))
        return [box for _, box in sorted(boxes, key=lambda b: -b[0])[:_PROPOSALS]]


def _glance(frame: Frame, box: Box) -> npt.NDArray[np.float32] | None:
    """Return a square of a frame small, grey and smoothed, None where it leaves the picture.

    The size of what is returned depends on the square only.
    """
    width, height = frame.size
    left, top = int(box.x), int(box.y)
    right, bottom = int(box.x + box.side), int(box.y + box.side)
    if left < 0 or top < 0 or right > width or bottom > height:
        return None
    side, times = _GLANCE, round(box.side / _GLANCE)
    if times >= _WHOLE_FROM:
        side = min(int(box.side), right - left, bottom - top) // times
        right, bottom = left + side * times, top + side * times
    grey = frame.part_brightness(left, top, right, bottom)
    small = cv2.resize(grey, (side, side), interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.blur(small.astype(np.float32), (3, 3)), np.float32)


def _same(one: npt.NDArray[np.float32], two: npt.NDArray[np.float32]) -> bool:
    """Whether two glances show the same."""
    return float(np.abs(one - two).max()) < _UNCHANGED


def _last_alike(frames: Sequence[Frame], pose: Pose) -> Frame | None:
    """The last frame, before the very last, up to which a pose's square looks as in the first."""
    box, alike = pose.box, None
    first = _glance(frames[0], box)
    for frame in frames[1:-1]:
        picture = _glance(frame, box)
        if first is None or picture is None or not _same(picture, first):
            break
        alike = frame
    return alike


def _closer(one: Box, two: Box, share: float) -> bool:
    """Whether the middles of two squares are nearer than a share of the larger's side."""
    across = abs(one.x + one.side / 2 - two.x - two.side / 2)
    down = abs(one.y + one.side / 2 - two.y - two.side / 2)
    return max(across, down) < share * max(one.side, two.side)


def same_person(one: Pose, two: Pose) -> bool:
    """Whether two poses of a frame are of the same person."""
    height = max(np.ptp(one.pixels[:, 1]), np.ptp(two.pixels[:, 1]))
    apart = np.linalg.norm((one.pixels - two.pixels)[_TRUNK], axis=-1).mean()
    return bool(apart < _SAME_PERSON * height)


def _trunks_apart(one: FloatArray, two: FloatArray) -> float:
    """How far apart the middles of two trunks are; (33, 2) pixels each."""
    return float(np.linalg.norm((one - two)[_TRUNK].mean(axis=0)))


def _two_people(one: Pose, two: Pose) -> bool:
    """Whether two poses of a frame are so far apart that they are of two people for sure."""
    height = max(np.ptp(one.pixels[:, 1]), np.ptp(two.pixels[:, 1]))
    return bool(_trunks_apart(one.pixels, two.pixels) >= _TWO_PEOPLE * height)


def _rather(known: Pose, one: Pose, two: Pose) -> bool:
    """Whether a pose clearly is one of two people, and not the other."""
    return not same_person(one, two) and (
        _trunks_apart(known.pixels, one.pixels) < 0.5 * _trunks_apart(known.pixels, two.pixels))


def _nearest(candidates: Sequence[_Candidate], expected: Pose) -> Pose | None:
    """The pose whose trunk is nearest to an expected one's, if it may be the same person's."""
    def away(pose: Pose) -> float:
        return _trunks_apart(pose.pixels, expected.pixels)

    nearest = min((candidate.pose for candidate in candidates), key=away, default=None)
    if nearest is None or away(nearest) > _TWO_PEOPLE * float(np.ptp(expected.pixels[:, 1])):
        return None
    return nearest


def _different(candidates: Sequence[_Candidate]) -> list[_Candidate]:
    """Leave out further poses of the same person."""
    kept: list[_Candidate] = []
    for candidate in candidates:
        if not any(same_person(candidate.pose, other.pose) for other in kept):
            kept.append(candidate)
    return kept


def colours_worn(frame: Frame, pose: Pose, others: Sequence[Pose] = ()) -> FloatArray:
    """Colours of shirt and shorts: two smoothed histograms in CIE L*a*b*, (1024,).

    What others cover is left out.
    """
    nothing = np.full(2 * 512, 1.0 / (2 * 512))
    points = pose.pixels[[LEFT_SHOULDER, RIGHT_SHOULDER, RIGHT_HIP, LEFT_HIP,
                          RIGHT_KNEE, LEFT_KNEE]]
    width, height = frame.size
    low = np.clip(points.min(axis=0), 0, (width - 2, height - 2)).astype(int)
    high = np.clip(points.max(axis=0) + 2, low + 2, (width, height)).astype(int)
    image = frame.part(int(low[0]), int(low[1]), int(high[0]), int(high[1]))
    scale = min(1.0, 64.0 / max(image.shape[:2]))
    small = cv2.resize(image, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    if small.size == 0:
        return nothing
    colours = cv2.cvtColor(small, cv2.COLOR_RGB2LAB)
    parts = []
    covered = body_mask(small.shape[:2], [(other.pixels - low) * scale for other in others])
    for corners in (points[:4], points[[3, 2, 4, 5]]):
        mask = np.zeros(small.shape[:2], np.uint8)
        cv2.fillConvexPoly(mask, np.round((corners - low) * scale).astype(np.int32), 1)
        mask[covered] = 0
        counts = cv2.calcHist([colours], [0, 1, 2], mask, [8, 8, 8], [0, 256, 64, 192, 64, 192])
        # Light and blur move colours by a bin or so.
        smooth = scipy.ndimage.gaussian_filter(counts.astype(float), 1.0)
        total = float(smooth.sum())
        parts.append(smooth.ravel() / total if total > 0 else nothing[:512] * 2)
    return np.concatenate(parts) / 2.0


def _colour_distance(one: FloatArray, two: FloatArray) -> float:
    """Hellinger distance of two sets of colours, 0 to 1."""
    return float(np.sqrt(max(1.0 - np.sqrt(one * two).sum(), 0.0)))


