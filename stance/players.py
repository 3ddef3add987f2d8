"""Players: find the defender in crops of the picture and follow them through the clip.

The pose model looks at the whole picture at 224 x 224 pixels and misses anyone small, so it is
shown squares of one and a half times a person's height instead: at first the squares in which
a defender can stand according to the court, then the square around the last pose. A person
counts as a player only with both feet on the half court; bystanders, umpires, feeders,
opponents beyond the net and the next court do not.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from stance.camera import Camera, floor_point, project
from stance.court import COURT_LENGTH, COURT_WIDTH
from stance.poses import (
    LANDMARKS,
    LEFT_HEEL,
    LEFT_HIP,
    LEFT_TOE,
    NOSE,
    RIGHT_HEEL,
    RIGHT_HIP,
    RIGHT_TOE,
    Box,
    Landmarker,
    Pose,
)

if TYPE_CHECKING:
    from stance.video import Frame

FloatArray = npt.NDArray[np.float64]

FEET = (LEFT_HEEL, RIGHT_HEEL, LEFT_TOE, RIGHT_TOE)

# A crop is this many times as high as what it is to show (findings: heavy model on such crops
# found a far player in 48 of 48 frames).
CROP_FACTOR = 1.5

# Squares for the first search, metres: steps between the places tried and the height of a
# grown-up, children included.
_SEARCH_STEP = 0.9
_SEARCH_HEIGHT = 1.7

# How far outside the lines a player's base may be, metres: when they are first found, and
# while they are followed (a reach for a wide smash leaves the court).
_MARGIN_FOUND = 0.3
_MARGIN_FOLLOWED = 0.9
_NOSE_HEIGHTS = (0.5, 2.1)

# A pose further from where it was expected than this part of the player's height is another
# person's. At 30 frames/s a step of 0.35 x 1.7 m is 18 m/s.
_JUMP = 0.35

# Seconds between searches for a lost player, doubled after each one that finds nobody.
_SEARCH_PAUSE = 0.5
_LONGEST_PAUSE = 4.0


@dataclass(frozen=True)
class Track:
    """One player through the clip; NaN in the frames where the player was not seen.

    Attributes
    ----------
    frames : (looks,) numbers of the frames looked at
    times : (looks,) seconds
    pixels : (looks, 33, 2) pixels
    visibility : (looks, 33)
    world : (looks, 33, 3) metres, landmarker's frame
    """

    frames: npt.NDArray[np.int_]
    times: FloatArray
    pixels: FloatArray
    visibility: FloatArray
    world: FloatArray

    @property
    def seen(self) -> npt.NDArray[np.bool_]:
        """(looks,) whether the player was seen."""
        return np.isfinite(self.pixels[:, 0, 0])


def box_around(pixels: FloatArray) -> Box:
    """Return the square crop around a pose.

    Parameters
    ----------
    pixels : (33, 2) pixels
    """
    low, high = pixels.min(axis=0), pixels.max(axis=0)
    side = CROP_FACTOR * float((high - low).max())
    x, y = (low + high) / 2.0 - side / 2.0
    return Box(float(x), float(y), side)


def _overlap(one: Box, two: Box) -> float:
    """Intersection over union of two squares."""
    width = min(one.x + one.side, two.x + two.side) - max(one.x, two.x)
    height = min(one.y + one.side, two.y + two.side) - max(one.y, two.y)
    shared = max(width, 0.0) * max(height, 0.0)
    return shared / (one.side**2 + two.side**2 - shared)


def _distinct(boxes: Iterable[Box]) -> tuple[Box, ...]:
    """Leave out squares that show nearly the same as an earlier one."""
    kept: list[Box] = []
    for box in boxes:
        if all(_overlap(box, other) < 0.65 for other in kept):
            kept.append(box)
    return tuple(kept)


def search_boxes(camera: Camera | None, image_size: tuple[int, int]) -> tuple[Box, ...]:
    """Return the squares in which to look for a player.

    Parameters
    ----------
    camera : Camera or None
        The calibrated camera in the frame of the half to search; without it the picture is
        covered by squares of three sizes.
    image_size : (width, height) pixels
    """
    width, height = image_size
    if camera is None:
        boxes = []
        for side in (max(width, height), 0.75 * min(width, height), 0.45 * min(width, height)):
            step = 0.4 * side
            for y in np.arange(-0.1 * side, max(height - 0.6 * side, 1.0), step):
                for x in np.arange(-0.1 * side, max(width - 0.6 * side, 1.0), step):
                    boxes.append(Box(float(x), float(y), float(side)))
        return _distinct(boxes)
    boxes = []
    for y in np.arange(-COURT_LENGTH / 2 + 0.2, -0.5, _SEARCH_STEP):
        for x in np.linspace(-COURT_WIDTH / 2 + 0.3, COURT_WIDTH / 2 - 0.3, 7):
            ends = project(camera, np.array([[x, y, 0.0], [x, y, _SEARCH_HEIGHT]]))
            middle = ends.mean(axis=0)
            if not (0.0 <= middle[0] <= width and 0.0 <= middle[1] <= height):
                continue
            side = CROP_FACTOR * float(np.linalg.norm(ends[0] - ends[1]))
            boxes.append(Box(float(middle[0]) - side / 2, float(middle[1]) - side / 2, side))
    return _distinct(boxes)


def stands_on_half(camera: Camera, pixels: FloatArray, margin: float = _MARGIN_FOUND) -> bool:
    """Tell whether a pose is a player on the half court `y < 0` of the camera's frame.

    The feet must be on the half (or `margin` metres beside it) and the nose as high above them
    as a person's is.

    Parameters
    ----------
    camera : Camera
    pixels : (33, 2) pixels
    margin : metres
    """
    base = floor_point(camera, pixels[list(FEET)]).mean(axis=0)
    if not np.isfinite(base).all():
        return False
    inside = (abs(base[0]) <= COURT_WIDTH / 2 + margin
              and -COURT_LENGTH / 2 - margin <= base[1] <= 0.0)
    return bool(inside and _NOSE_HEIGHTS[0] <= height_over(camera, base, pixels[NOSE])
                <= _NOSE_HEIGHTS[1])


def height_over(camera: Camera, base: FloatArray, pixel: FloatArray) -> float:
    """Height in metres at which the vertical line over `base` (3,) passes a pixel (2,) best."""
    above = base + (0.0, 0.0, 1.0)
    foot, head = project(camera, np.stack([base, above]))
    up = head - foot
    # One metre up is `up` pixels near the floor; perspective makes the next one differ, which
    # a second look from the height found first takes in.
    height = float((pixel - foot) @ up / (up @ up))
    near = project(camera, base + (0.0, 0.0, height))
    slope = project(camera, base + (0.0, 0.0, height + 0.1)) - near
    return height + 0.1 * float((pixel - near) @ slope / (slope @ slope))


def _expected_here(pose: Pose, box: Box) -> bool:
    """Tell whether a pose's hips are near the middle of the box it was looked for in."""
    middle = pose.pixels[[LEFT_HIP, RIGHT_HIP]].mean(axis=0)
    away = np.linalg.norm(middle - (box.x + box.side / 2, box.y + box.side / 2))
    return bool(away <= _JUMP * box.side)


def _pose_height(pose: Pose) -> float:
    """Height of a pose in the picture, pixels."""
    return float(np.ptp(pose.pixels[:, 1]))


def search(
    image: npt.NDArray[np.uint8], landmarker: Landmarker, camera: Camera | None,
    boxes: tuple[Box, ...],
) -> Pose | None:
    """Look for a player in each of some squares; of several, take the largest in the picture.

    Parameters
    ----------
    image : (height, width, 3) RGB
    landmarker : Landmarker
    camera : Camera or None
        With it, only people on the half court count.
    boxes : squares to look in

    Returns
    -------
    Pose, from a second look at a crop around the first, or None
    """
    best: Pose | None = None
    for box in boxes:
        pose = landmarker.detect(image, box)
        if pose is None or (camera is not None and not stands_on_half(camera, pose.pixels)):
            continue
        pose = landmarker.detect(image, box_around(pose.pixels))
        if pose is None or (camera is not None and not stands_on_half(camera, pose.pixels)):
            continue
        if best is None or _pose_height(pose) > _pose_height(best):
            best = pose
    return best


def follow(
    frames: "Iterable[Frame]", landmarker: Landmarker, camera: Camera | None,
    image_size: tuple[int, int],
) -> Track:
    """Follow one player through the frames.

    Each frame is looked at in the square around the last pose; if the player is not there, in
    a square twice as large, and from time to time wherever a player can stand.

    Parameters
    ----------
    frames : iterable of Frame
    landmarker : Landmarker
    camera : Camera or None
        The calibrated camera in the frame of the half to follow a player on.
    image_size : (width, height) pixels

    Returns
    -------
    Track
    """
    everywhere = search_boxes(camera, image_size)
    numbers, times, poses = [], [], []
    last: Pose | None = None
    before: Pose | None = None
    pause, search_at = _SEARCH_PAUSE, 0.0
    for frame in frames:
        pose = None
        if last is not None:
            pose = _look_again(frame, landmarker, camera, last, before)
        if pose is None and frame.time_s >= search_at:
            pose = search(frame.image, landmarker, camera, everywhere)
            pause = _SEARCH_PAUSE if pose is not None else min(2 * pause, _LONGEST_PAUSE)
            search_at = frame.time_s + pause
        numbers.append(frame.index)
        times.append(frame.time_s)
        poses.append(pose)
        if pose is not None:
            before = last if numbers[-2:-1] == [frame.index - 1] else None
            last = pose
    return _track(numbers, times, poses)


def _look_again(
    frame: "Frame", landmarker: Landmarker, camera: Camera | None, last: Pose, before: Pose | None,
) -> Pose | None:
    """Look for the player around the last pose, moved on as it moved before."""
    box = box_around(last.pixels)
    if before is not None:
        moved = (last.pixels - before.pixels)[[LEFT_HIP, RIGHT_HIP]].mean(axis=0)
        box = Box(box.x + float(moved[0]), box.y + float(moved[1]), box.side)
    for factor in (1.0, 2.0):
        side = factor * box.side
        wider = Box(box.x + (box.side - side) / 2, box.y + (box.side - side) / 2, side)
        pose = landmarker.detect(frame.image, wider)
        if pose is None or not _expected_here(pose, box):
            continue
        if camera is None or stands_on_half(camera, pose.pixels, _MARGIN_FOLLOWED):
            return pose
    return None


def _track(numbers: list[int], times: list[float], poses: list[Pose | None]) -> Track:
    """Lay the poses of all frames into arrays."""
    count = len(numbers)
    pixels = np.full((count, LANDMARKS, 2), np.nan)
    visibility = np.full((count, LANDMARKS), np.nan)
    world = np.full((count, LANDMARKS, 3), np.nan)
    for i, pose in enumerate(poses):
        if pose is not None:
            pixels[i], visibility[i], world[i] = pose.pixels, pose.visibility, pose.world
    return Track(np.array(numbers, int), np.array(times, float), pixels, visibility, world)
