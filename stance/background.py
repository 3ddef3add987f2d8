"""The still background of a clip, and how the camera moved while it was filmed.

A camera on a tripod stands; one in the hand sways; one that is knocked or carried stands
elsewhere afterwards. Pictures of a swaying camera are laid onto one reference picture of the
clip; a clip whose camera was moved is cut there, and its longest part is used.

Pixels count from the top left corner of the top left pixel, as everywhere.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from stance.errors import InputError
from stance.result import Notice
from stance.video import ChangedFrame, Frame, read_frames, read_frames_at, read_key_pictures

Array = NDArray[np.float64]
Image = NDArray[np.uint8]

SEARCH_SIDE = 640
"""Long side of the reduced pictures in which motion is looked for, pixels."""

LOOK_S = 0.1
"""Time between two looks while the camera stands. A hand sways at a few hertz at most."""

STANDING_LOOK_S = 0.4
STANDING_LOOKS = 12
"""Time between looks that only ask whether the camera stands, and from how many of them on it may
be said that it does not. What is asked of all looks together needs no close ones."""

FEATURES = 400
FEATURE_DISTANCE = 8
"""Corners followed in the reduced picture, and their least distance, pixels."""

HALVINGS = (3,)
STANDING_HALVINGS = (0, 3)
"""How often pictures are halved so that corners are followed farther than some pixels; the next is
tried where most do not agree on one motion. While a camera stands they need not be, which takes a
third of the time; a sway is followed less closely so (docs/performance.md)."""

ENOUGH_FEATURES = 200
CORNER_QUALITIES = (0.005, 0.002)
"""Where so many corners are not found, as in a bare hall, weaker ones are taken too: most of the
strong ones may be people's. Weak ones follow a sway less closely."""

INLIER_PX = 1.0
LEAST_INLIERS = 20
LEAST_SHARE = 0.3
"""The background is what most corners agree on: people in front have fewer corners than the hall,
and theirs do not move as one picture."""

LEAST_SPREAD = 0.03
"""Corners must spread this far across the line they lie along best, of the longer side."""

STAYED_CORRELATION = 0.8
LEAST_STAYED = 25
"""In a bare hall most corners are people's. So many that are where they were, with surroundings
that correlate so with the reference's, show that the camera is where it was."""

# Lengths in the picture are fractions of its long side, so that a picture's scale does not matter.
STILL = 0.7 / 1280
"""Motion below this is not told from none; half of what a marked point misses by."""

KNOCK = 0.03
KNOCK_WINDOW_S = 0.7
"""A camera that stands elsewhere than it did within this time was moved; a hand's sway returns."""

REACH = 0.12
"""Farther from its reference picture a camera has left the view: too little of it is shared."""

LOST_S = 0.5
"""The view may be lost for this long, as when somebody passes close to the lens."""

LEAST_PART_S = 2.0
LEAST_PART_SHARE = 0.2
"""A shorter part shows hardly a ready position; a clip without a longer one is refused."""

BACKGROUND_PICTURES = 25
LEAST_BACKGROUND_PICTURES = 7
HELD_BYTES = 200_000_000
"""The background is the median of this many pictures, of fewer where they are very large."""

STRIP_ROWS = 32


@dataclass(frozen=True)
class Part:
    """A part of the clip in which the camera keeps its place: first and last picture, seconds."""

    first_frame: int
    last_frame: int
    start_s: float
    end_s: float

    @property
    def duration_s(self) -> float:
        """How long the part is, seconds."""
        return self.end_s - self.start_s


@dataclass(frozen=True, eq=False)
class CameraMotion:
    """How the camera moved in a clip.

    Attributes
    ----------
    image_size : (width, height) of the upright picture, pixels.
    parts : parts between which the camera was moved, in order; one where it never was.
    used : the longest of them, which is measured.
    reference_frame : the picture of the used part that the others are laid onto.
    frames : (looks,) pictures of the used part that were looked at.
    to_reference : (looks, 3, 3) homographies that take a pixel of such a picture to where the
        reference picture shows the same; all the identity for a camera that stands.
    sway_px : root mean square distance by which the picture's content is off the reference
        picture's, over the used part and the whole picture; pixels.
    stands : whether that is too little to be told from none.
    """

    image_size: tuple[int, int]
    parts: tuple[Part, ...]
    used: Part
    reference_frame: int
    frames: NDArray[np.int_]
    to_reference: Array
    sway_px: float
    stands: bool


def camera_motion(clip: str | Path, image_size: tuple[int, int]) -> CameraMotion:
    """See how the camera moved in a clip.

    While the camera stands only every `LOOK_S` is looked at; a clip in which it sways is read a
    second time, picture by picture.

    Parameters
    ----------
    clip : path of the video.
    image_size : (width, height) of its upright picture, pixels.

    Raises
    ------
    InputError
        If the clip can't be read, or the camera keeps moving so that no part can be measured.
    """
    motion = _motion(clip, image_size, LOOK_S)
    return motion if motion.stands else _motion(clip, image_size, 0.0)


def homography(motion: CameraMotion, frame: int) -> Array:
    """Pixels of a picture of the used part to those of the reference picture, (3, 3).

    A picture that was not looked at has that of the nearest that was.
    """
    place = int(np.searchsorted(motion.frames, frame))
    near = [k for k in (place - 1, place) if 0 <= k < len(motion.frames)]
    nearest = min(near, key=lambda k: abs(int(motion.frames[k]) - frame))
    change: Array = motion.to_reference[nearest]
    return change


def to_reference(motion: CameraMotion, frames: NDArray[np.int_], pixels: Array) -> Array:
    """Where the reference picture shows what pictures of the used part show at some pixels.

    Parameters
    ----------
    motion : of the clip.
    frames : (looks,) pictures.
    pixels : (looks, points, 2); NaN stays NaN.

    Returns
    -------
    (looks, points, 2) pixels.
    """
    if motion.stands:
        return pixels
    return np.stack([_moved(homography(motion, int(frame)), shown)
                     for frame, shown in zip(frames, pixels, strict=True)])


def steadied(frames: Iterable[Frame], motion: CameraMotion) -> Iterator[Frame]:
    """Pass on the pictures of the used part, each laid onto the reference picture.

    What the reference picture shows beyond a picture's edge is filled with the edge. Pictures of
    a camera that stands are passed on as they are.
    """
    for frame in frames:
        laid = laid_frame(frame, motion)
        if laid is not None:
            yield laid


def laid_frame(frame: Frame, motion: CameraMotion) -> Frame | None:
    """One picture as `steadied` passes it on, or None for one outside the used part."""
    if not motion.used.first_frame <= frame.index <= motion.used.last_frame:
        return None
    if motion.stands:
        return frame
    return ChangedFrame.of(frame, partial(laid_on_reference, frame=frame.index, motion=motion))


def laid_on_reference(image: Image, frame: int, motion: CameraMotion) -> Image:
    """One picture (height, width, 3) laid onto the reference picture."""
    if motion.stands:
        return image
    # OpenCV counts from the middle of the top left pixel.
    centred = _SHIFT_BACK @ homography(motion, frame) @ _SHIFT
    laid = cv2.warpPerspective(
        image, centred, motion.image_size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return laid.astype(np.uint8, copy=False)


def background_picture(clip: str | Path, motion: CameraMotion) -> Image:
    """The clip's picture without the people who move about in it.

    Returns
    -------
    (height, width, 3) uint8, RGB, upright.
    """
    return without_people(still_pictures(clip, motion))


def still_pictures(clip: str | Path, motion: CameraMotion) -> list[Image]:
    """Pictures (height, width, 3) spread over the used part, laid onto the reference picture."""
    count = _most_held(motion.image_size)
    wanted = np.linspace(motion.used.first_frame, motion.used.last_frame, count).round()
    return [laid_on_reference(frame.image, frame.index, motion)
            for frame in read_frames_at(clip, [int(index) for index in wanted])]


def quick_pictures(clip: str | Path, image_size: tuple[int, int]) -> list[Image]:
    """Pictures as `still_pictures` gives them of a camera that stands, without reading the clip.

    Few or none where the clip holds too few pictures that can be read by themselves.
    """
    pictures = read_key_pictures(clip, _most_held(image_size))
    return pictures if len(pictures) >= LEAST_BACKGROUND_PICTURES else []


def _most_held(image_size: tuple[int, int]) -> int:
    """How many pictures of a size may be held."""
    return int(np.clip(HELD_BYTES // (3 * image_size[0] * image_size[1]), 5, BACKGROUND_PICTURES))


def without_people(pictures: Sequence[Image]) -> Image:
    """The median of pictures (height, width, 3) that a camera at rest took."""
    background = np.empty_like(pictures[0])
    for top in range(0, len(background), STRIP_ROWS):
        strip = np.stack([picture[top:top + STRIP_ROWS] for picture in pictures])
        middle = len(pictures) // 2
        background[top:top + STRIP_ROWS] = np.partition(strip, middle, axis=0)[middle]
    return background


def motion_notices(motion: CameraMotion) -> tuple[Notice, ...]:
    """What a coach should know about the camera's motion: `camera_moved`, `camera_sways`."""
    notices = []
    if len(motion.parts) > 1:
        used = motion.used
        times = ", ".join(f"{part.start_s:.1f} s" for part in motion.parts[1:])
        notices.append(Notice(
            "camera_moved",
            f"The camera was moved (from {times} on it stands elsewhere), so only the longest "
            f"part is measured: {used.start_s:.1f} to {used.end_s:.1f} s. Stand the phone where "
            "nobody knocks it, or cut the clip there and measure each part by itself."))
    if not motion.stands:
        notices.append(Notice(
            "camera_sways",
            f"The camera sways, by {motion.sway_px:.0f} pixels on average; that was taken out. "
            "A phone that stands still measures a little better."
            if motion.sway_px >= 1.5 else
            "The camera sways a little; that was taken out."))
    return tuple(notices)


_SHIFT = np.array([[1.0, 0.0, 0.5], [0.0, 1.0, 0.5], [0.0, 0.0, 1.0]])
_SHIFT_BACK = np.linalg.inv(_SHIFT)


@dataclass(frozen=True, eq=False)
class _Reference:
    """A reduced picture, (height, width) uint8, and corners in it: (corners, 1, 2) OpenCV's."""

    image: Image
    corners: NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class _Look:
    """One look: homography from the reference to the picture, both of full size, or None."""

    frame: int
    time_s: float
    from_reference: Array | None


def _motion(clip: str | Path, image_size: tuple[int, int], step_s: float) -> CameraMotion:
    """Follow the camera, with a look every `step_s`."""
    views = _Views(image_size, HALVINGS)
    for frame in _every(read_frames(clip), step_s):
        views.look(frame)
    motion = _told(views.ended(), image_size)
    if motion is None:
        raise InputError(_always_moving(clip))
    return motion


def _told(views: Iterable[list[_Look]], image_size: tuple[int, int]) -> CameraMotion | None:
    """What some views tell, or None where no part can be measured."""
    parts = [part for looks in views for part in _cut_at_knocks(looks, image_size)]
    if not parts:
        return None
    longest = max(parts, key=lambda looks: looks[-1].time_s - looks[0].time_s)
    clip_s = parts[-1][-1].time_s - parts[0][0].time_s
    used = _part(longest)
    if len(parts) > 1 and used.duration_s < max(LEAST_PART_S, LEAST_PART_SHARE * clip_s):
        return None
    frames = np.array([look.frame for look in longest])
    changes = np.stack([look.from_reference for look in longest if look.from_reference is not None])
    grid = _grid(image_size)
    shown = np.stack([_moved(change, grid) for change in changes])
    middle = int(np.argmin(np.linalg.norm(shown - np.median(shown, axis=0), axis=-1).sum(axis=-1)))
    off = np.linalg.norm(shown - shown[middle], axis=-1)
    stands = bool(np.percentile(off.mean(axis=-1), 95) < STILL * max(image_size))
    back = changes[middle] @ np.linalg.inv(changes)
    if stands:
        back = np.broadcast_to(np.eye(3), back.shape)
    return CameraMotion(
        image_size, tuple(_part(looks) for looks in parts), used, int(frames[middle]), frames,
        back, float(np.sqrt(np.mean(off**2))), stands)


class StandingCamera:
    """Sees, while a clip is read for something else, whether its camera stands all along.

    Parameters
    ----------
    image_size : (width, height) of the clip's upright picture, pixels.
    """

    def __init__(self, image_size: tuple[int, int]) -> None:
        self._size = image_size
        self._views = _Views(image_size, STANDING_HALVINGS)
        self._due = -np.inf
        self._last: Frame | None = None
        self._off: list[float] = []
        self.moved = False

    def see(self, frame: Frame) -> None:
        """Take the next frame of the clip; `moved` is true once the camera does not stand."""
        self._last = frame
        if frame.time_s >= self._due:
            self._due = frame.time_s + STANDING_LOOK_S
            self._look(frame)

    def _look(self, frame: Frame) -> None:
        """Look at a frame."""
        look = self._views.look(frame)
        self._last = None
        if look.from_reference is None or self._views.past:
            self.moved = True
            return
        self._off.append(_distance(look.from_reference, _grid(self._size)))
        # Where the first picture is itself an outlier all others seem off by the same.
        off = np.abs(np.array(self._off) - np.median(self._off))
        self.moved |= len(off) >= STANDING_LOOKS and bool(
            np.percentile(off, 95) >= 2 * STILL * max(self._size))

    def motion(self) -> CameraMotion | None:
        """How a camera that stood all along did so; None where it did not."""
        if self._last is not None:
            self._look(self._last)
        told = None if self.moved else _told(self._views.ended(), self._size)
        return told if told is not None and told.stands and len(told.parts) == 1 else None


def _part(looks: list[_Look]) -> Part:
    """The part of the clip that some looks cover."""
    return Part(looks[0].frame, looks[-1].frame, looks[0].time_s, looks[-1].time_s)


def _always_moving(clip: str | Path) -> str:
    """The sentence for a clip without a part to measure."""
    return (
        f"The camera in {clip} keeps moving, so the court does not stay in its place and nothing "
        "can be measured. Stand the phone on a tripod or a bag and film again.")


class _Views:
    """Looks at a clip, in a list for each view: as long as one reference picture is seen.

    Parameters
    ----------
    image_size : (width, height) of the clip's upright picture, pixels.
    halvings : as `HALVINGS`.

    Attributes
    ----------
    past : views before the present one.
    """

    def __init__(self, image_size: tuple[int, int], halvings: Sequence[int]) -> None:
        self._size = image_size
        self._halvings = halvings
        self._width = round(image_size[0] * min(1.0, SEARCH_SIDE / max(image_size)))
        self._grid = _grid(image_size)
        self._reference: _Reference | None = None
        self._looks: list[_Look] = []
        self._last, self._seen_s = np.eye(3), 0.0
        self.past: list[list[_Look]] = []

    def look(self, frame: Frame) -> _Look:
        """Look at the next frame."""
        image = frame.brightness(self._width)
        found = self._found(image)
        lost = frame.time_s - self._seen_s > LOST_S
        if found is None and (self._reference is None or lost):
            if self._looks:
                self.past.append(_seen_to_the_end(self._looks))
            self._reference, self._looks, found = _reference(image), [], np.eye(3)
        if found is not None:
            self._last, self._seen_s = found, frame.time_s
        look = _Look(frame.index, frame.time_s, found)
        self._looks.append(look)
        return look

    def _found(self, image: Image) -> Array | None:
        """The homography from the reference picture to a picture, where there is one."""
        reference = self._reference
        if reference is None:
            return None
        if not _can_be_followed(reference):
            # A dark or bare picture tells no motion; the view begins where there is something.
            if not _can_be_followed(_reference(image)):
                return np.eye(3)
            self._seen_s = -np.inf
            return None
        enlarge = np.diag([self._size[0] / image.shape[1], self._size[1] / image.shape[0], 1.0])
        guess = np.linalg.inv(enlarge) @ self._last @ enlarge
        reduced = _change(reference, image, guess, self._halvings)
        if reduced is None:
            return None
        found: Array = enlarge @ reduced @ np.linalg.inv(enlarge)
        return found if _distance(found, self._grid) <= REACH * max(self._size) else None

    def ended(self) -> list[list[_Look]]:
        """All views, once the clip has been seen to its end."""
        return [*self.past, _seen_to_the_end(self._looks)] if self._looks else self.past


def _every(frames: Iterable[Frame], step_s: float) -> Iterator[Frame]:
    """Pass on a frame every `step_s`, and the last one."""
    due, waiting = -np.inf, None
    for frame in frames:
        if frame.time_s < due:
            waiting = frame
            continue
        due, waiting = frame.time_s + step_s, None
        yield frame
    if waiting is not None:
        yield waiting


def _seen_to_the_end(looks: list[_Look]) -> list[_Look]:
    """Leave out the last looks that do not see the reference, and fill those between.

    A view lost for a moment is taken to be where it was before.
    """
    filled: list[_Look] = []
    pending: list[_Look] = []
    for look in looks:
        pending.append(look)
        if look.from_reference is not None:
            before = filled[-1].from_reference if filled else look.from_reference
            filled += [_Look(lost.frame, lost.time_s, before) for lost in pending[:-1]]
            filled.append(look)
            pending = []
    return filled


def _cut_at_knocks(looks: list[_Look], image_size: tuple[int, int]) -> list[list[_Look]]:
    """Cut a view where the camera stands elsewhere afterwards; the move itself is left out."""
    times = np.array([look.time_s for look in looks])
    grid = _grid(image_size)
    places = np.stack([_moved(look.from_reference, grid) for look in looks
                       if look.from_reference is not None])
    half = KNOCK_WINDOW_S / 2
    steps = np.zeros(len(looks))
    for i, time_s in enumerate(times):
        before = (times >= time_s - half - KNOCK_WINDOW_S) & (times < time_s - half)
        after = (times > time_s + half) & (times <= time_s + half + KNOCK_WINDOW_S)
        if before.any() and after.any():
            change = np.median(places[after], axis=0) - np.median(places[before], axis=0)
            steps[i] = np.linalg.norm(change, axis=-1).mean()
    moving = steps > KNOCK * max(image_size)
    parts: list[list[_Look]] = []
    for i, look in enumerate(looks):
        if moving[i]:
            continue
        if not parts or (i and moving[i - 1]):
            parts.append([])
        parts[-1].append(look)
    return parts


def _reference(image: Image) -> _Reference:
    """The corners of a reduced picture that can be followed."""
    corners = np.empty((0, 1, 2), np.float32)
    for quality in CORNER_QUALITIES:
        # OpenCV gives None, which its types do not say, for a picture without corners.
        found: Any = cv2.goodFeaturesToTrack(image, FEATURES, quality, FEATURE_DISTANCE)
        corners = corners if found is None else found
        if len(corners) >= ENOUGH_FEATURES:
            break
    return _Reference(image, corners)


def _can_be_followed(reference: _Reference) -> bool:
    """Tell whether a picture has corners enough to tell motion by, and not along one line only.

    Corners that compression makes along an edge say nothing of motion along it.
    """
    return _spread_out(reference, np.ones(len(reference.corners), bool))


def _spread_out(reference: _Reference, chosen: NDArray[np.bool_]) -> bool:
    """Tell whether the chosen corners are enough, and do not lie along one line only."""
    places = reference.corners[chosen].reshape(-1, 2)
    if len(places) < LEAST_INLIERS:
        return False
    across = np.linalg.svd(places - places.mean(axis=0), compute_uv=False)[1] / len(places) ** 0.5
    return bool(across > LEAST_SPREAD * max(reference.image.shape))


def _change(reference: _Reference, image: Image, guess: Array,
            halvings: Sequence[int]) -> Array | None:
    """The homography from a reference to a picture, reduced pixels, or None if there is none.

    Corners are followed from where the picture before showed them; if that fails, as after a
    knock, both pictures' features are matched anew.
    """
    expected = _moved(guess, reference.corners.astype(float) + 0.5) - 0.5
    for levels in halvings:
        followed, status, _ = cv2.calcOpticalFlowPyrLK(
            reference.image, image, reference.corners, expected.astype(np.float32),
            winSize=(15, 15), maxLevel=levels, flags=cv2.OPTFLOW_USE_INITIAL_FLOW)
        good = status.ravel() == 1
        found = _agreed(reference.corners[good], followed[good])
        if found is not None:
            return found
    stayed = good & _stayed(reference, image, expected, np.asarray(followed, np.float32))
    if stayed.sum() >= LEAST_STAYED and _spread_out(reference, stayed):
        found = _agreed(reference.corners[stayed], followed[stayed])
    return found if found is not None else _change_anew(reference.image, image)


def _stayed(reference: _Reference, image: Image, expected: Array,
            followed: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Tell which corners are where they were expected, and look as in the reference, (corners,)."""
    near: NDArray[np.bool_] = np.asarray(
        np.linalg.norm((followed - expected).reshape(-1, 2), axis=-1) < INLIER_PX)
    for number in np.flatnonzero(near):
        here, there = (
            cv2.getRectSubPix(picture, (11, 11), tuple(map(float, corner.ravel()))).ravel()
            for picture, corner in ((reference.image, reference.corners[number]),
                                    (image, expected[number])))
        with np.errstate(invalid="ignore"):
            near[number] = np.corrcoef(here, there)[0, 1] >= STAYED_CORRELATION
    return near


def _change_anew(reference: Image, image: Image) -> Array | None:
    """The homography between two reduced pictures from features matched over all of both."""
    detector = cv2.SIFT.create(800)
    (points, marks), (others, other_marks) = (
        detector.detectAndCompute(picture, None) for picture in (reference, image))
    if marks is None or other_marks is None or min(len(points), len(others)) < LEAST_INLIERS:
        return None
    pairs = [pair for pair in cv2.BFMatcher(cv2.NORM_L2).knnMatch(marks, other_marks, k=2)
             if len(pair) == 2 and pair[0].distance < 0.75 * pair[1].distance]
    here = np.array([points[best.queryIdx].pt for best, _ in pairs], np.float32)
    there = np.array([others[best.trainIdx].pt for best, _ in pairs], np.float32)
    return _agreed(here.reshape(-1, 1, 2), there.reshape(-1, 1, 2))


def _agreed(here: NDArray[np.float32], there: NDArray[np.float32]) -> Array | None:
    """The homography on which most of (points, 1, 2) pairs agree, or None."""
    if len(here) < LEAST_INLIERS:
        return None
    found, inliers = cv2.findHomography(
        here + np.float32(0.5), there + np.float32(0.5), cv2.RANSAC, INLIER_PX)
    if found is None or inliers.sum() < max(LEAST_INLIERS, LEAST_SHARE * len(here)):
        return None
    agreed: Array = found
    return agreed


def _grid(image_size: tuple[int, int]) -> Array:
    """Nine pixels spread over the picture, (9, 2)."""
    width, height = image_size
    return np.array([[x * width, y * height] for y in (0.1, 0.5, 0.9) for x in (0.1, 0.5, 0.9)])


def _distance(change: Array, grid: Array) -> float:
    """Mean distance by which a homography moves some pixels."""
    return float(np.linalg.norm(_moved(change, grid) - grid, axis=-1).mean())


def _moved(change: Array, pixels: Array) -> Array:
    """Pixels (..., 2) after a homography (3, 3)."""
    moved = pixels @ change[:, :2].T + change[:, 2]
    shown: Array = moved[..., :2] / moved[..., 2:]
    return shown
