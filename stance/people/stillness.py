"""Whether a player has come to rest, at a glance."""

from collections.abc import Sequence

import cv2
import numpy as np
import numpy.typing as npt

from stance.people.landmarks import Box, Pose
from stance.video.frame import Frame

# A square is compared with itself at about this size, pixels; grey levels from which it has
# changed; and the least whole number by which it is reduced, in a fifth of the time that a broken
# one takes.
GLANCE, _UNCHANGED, _WHOLE_FROM = 96, 16.0, 3


def body_thumbnail(frame: Frame, box: Box) -> npt.NDArray[np.float32] | None:
    """Return a square of a frame small, grey and smoothed, None where it leaves the picture.

    The size of what is returned depends on the square only.
    """
    width, height = frame.size
    left, top = int(box.x), int(box.y)
    right, bottom = int(box.x + box.side), int(box.y + box.side)
    if left < 0 or top < 0 or right > width or bottom > height:
        return None
    side, times = GLANCE, round(box.side / GLANCE)
    if times >= _WHOLE_FROM:
        side = min(int(box.side), right - left, bottom - top) // times
        right, bottom = left + side * times, top + side * times
    grey = frame.crop_grey(left, top, right, bottom)
    small = cv2.resize(grey, (side, side), interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.blur(small.astype(np.float32), (3, 3)), np.float32)


def same_thumbnail(one: npt.NDArray[np.float32], two: npt.NDArray[np.float32]) -> bool:
    """Whether two glances show the same."""
    return float(np.abs(one - two).max()) < _UNCHANGED


def last_alike(frames: Sequence[Frame], pose: Pose) -> Frame | None:
    """The last frame, before the very last, up to which a pose's square looks as in the first."""
    box, alike = pose.box, None
    first = body_thumbnail(frames[0], box)
    for frame in frames[1:-1]:
        picture = body_thumbnail(frame, box)
        if first is None or picture is None or not same_thumbnail(picture, first):
            break
        alike = frame
    return alike
