"""Players: who counts as one, where to look for them, and the track of one through a clip.

The pose model looks at the whole picture at 224 x 224 pixels and misses anyone small, so it is
shown squares of one and a half times a person's height instead. A person counts as a player
only with both feet on the half court; bystanders, umpires, feeders, opponents beyond the net
and the next court do not. `stance.following` follows them.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from stance.camera import Camera, floor_point, project
from stance.court import COURT_LENGTH, COURT_WIDTH
from stance.poses import LEFT_HEEL, LEFT_TOE, NOSE, RIGHT_HEEL, RIGHT_TOE, Box

FloatArray = npt.NDArray[np.float64]

FEET = (LEFT_HEEL, RIGHT_HEEL, LEFT_TOE, RIGHT_TOE)

# Squares for the first search, metres: steps between the places tried and the height of a
# grown-up, children included.
_SEARCH_STEP = 0.9
_SEARCH_HEIGHT = 1.7
_SEARCH_FACTOR = 1.7

# How far outside the lines a player's base may be, metres: when they are first found and on the
# whole, and while they are followed (a reach for a wide smash leaves the court).
MARGIN_FOUND = 0.15
MARGIN_FOLLOWED = 0.9
_NOSE_HEIGHTS = (0.5, 2.1)

# Looks further apart than this are not joined by a straight line, seconds.
_LONGEST_STEP = 0.35


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

    def between(self, frames: npt.NDArray[np.int_], times: FloatArray) -> "Track":
        """Return the track at any frames, each on a straight line between two looks.

        These are the nearest looks in which the player was seen, so who was missed once, behind
        the partner or in a blur, is where the looks before and after say.

        Parameters
        ----------
        frames : (frames,) numbers
        times : (frames,) seconds

        Returns
        -------
        Track, NaN where a look on either side is missing or they are too far from each other
        """
        looks = np.flatnonzero(self.seen)
        if not len(looks):
            looks = np.arange(len(self.frames))
        after = looks[np.clip(np.searchsorted(self.frames[looks], frames), 0, len(looks) - 1)]
        before = looks[np.maximum(
            np.searchsorted(self.frames[looks], frames, side="right") - 1, 0)]
        exact = (self.frames[after] == frames) | (self.frames[before] == frames)
        step = self.times[after] - self.times[before]
        with np.errstate(invalid="ignore", divide="ignore"):
            share = np.where(step > 0, (times - self.times[before]) / step, 0.0)
        known = exact | ((step > 0) & (step <= _LONGEST_STEP))
        share = np.where(known, share, np.nan)

        def on_line(values: FloatArray) -> FloatArray:
            weight = share.reshape(-1, *[1] * (values.ndim - 1))
            with np.errstate(invalid="ignore"):
                line = values[before] + weight * (values[after] - values[before])
            same = (after == before).reshape(weight.shape)
            return np.asarray(np.where(same & np.isfinite(weight), values[before], line))

        return Track(frames, times, on_line(self.pixels), on_line(self.visibility),
                     on_line(self.world))

    @property
    def seen(self) -> npt.NDArray[np.bool_]:
        """(looks,) whether the player was seen."""
        return np.isfinite(self.pixels[:, 0, 0])


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
        if all(_overlap(box, other) < 0.5 for other in kept):
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
            side = _SEARCH_FACTOR * float(np.linalg.norm(ends[0] - ends[1]))
            boxes.append(Box(float(middle[0]) - side / 2, float(middle[1]) - side / 2, side))
    return _distinct(boxes)


def stands_on_half(camera: Camera, pixels: FloatArray, margin: float = MARGIN_FOUND) -> bool:
    """Tell whether a pose is a player on the half court `y < 0` of the camera's frame.

    The feet must be on the half (or `margin` metres beside it) and the nose as high above them
    as a person's is.

    Parameters
    ----------
    camera : Camera
    pixels : (33, 2) pixels
    margin : metres
    """
    base = _base(camera, pixels)
    if not np.isfinite(base).all():
        return False
    return on_half(base, margin) and bool(
        _NOSE_HEIGHTS[0] <= height_over(camera, base, pixels[NOSE]) <= _NOSE_HEIGHTS[1])


def plays_on_half(camera: Camera, track: Track) -> bool:
    """Tell whether somebody stands on the half court `y < 0` on the whole.

    Who stands beside it may lunge onto it, and is no player.

    Parameters
    ----------
    camera : Camera
    track : Track
    """
    places = _base(camera, track.pixels[track.seen])
    return bool(len(places)) and on_half(np.nanmedian(places, axis=0), MARGIN_FOUND)


def _base(camera: Camera, pixels: FloatArray) -> FloatArray:
    """Midpoint of the feet on the floor, (..., 3) metres, of poses (..., 33, 2) pixels."""
    return np.asarray(floor_point(camera, pixels[..., list(FEET), :]).mean(axis=-2))


def on_half(base: FloatArray, margin: float) -> bool:
    """Tell whether a place on the floor is on the half court `y < 0`, or at most so far beside it.

    Parameters
    ----------
    base : (2,) or (3,) metres
    margin : metres
    """
    return bool(abs(base[0]) <= COURT_WIDTH / 2 + margin
                and -COURT_LENGTH / 2 - margin <= base[1] <= 0.0)


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


def search_near(boxes: Sequence[Box], place: FloatArray, count: int) -> tuple[Box, ...]:
    """Return the `count` squares whose middles are nearest to a pixel (2,)."""
    return tuple(sorted(
        boxes, key=lambda b: float(np.hypot(b.x + b.side / 2 - place[0],
                                            b.y + b.side / 2 - place[1])))[:count])


def widened(box: Box, factor: float) -> Box:
    """Return the square around the same middle, `factor` times as large."""
    more = (factor - 1.0) * box.side
    return Box(box.x - more / 2, box.y - more / 2, box.side + more)
