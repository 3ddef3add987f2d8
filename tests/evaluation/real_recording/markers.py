"""Markers on the pelvis of the recorded person (`recording.py`), in two pictures.

The man wears reflecting balls for motion capture. Two sit on the foremost points of his hip bones
(anterior superior iliac spines; common practice); the line between them is parallel to that
between his hip joints, so it tells where the hips face without any pose model. Cameras 1 and 2
show both throughout. Where they are was read by eye in some frames; between these the places are
interpolated, and each is moved onto the bright spot nearby.
"""

import json
from collections.abc import Iterable

import cv2
import numpy as np

from stance.types import FloatArray
from stance.video.frame import Frame
from tests.paths import DATA

READ = DATA / "pelvis_markers.json"
SIDES = ("left", "right")
VIEWS = (0, 1)

# A marker is a bright spot about so large against what is around it: standard deviations of the
# two Gaussians whose difference shows it, pixels.
_SPOT, _AROUND = 1.5, 4.0
# It is sought so far from where it should be; a pixel squared of distance costs so many grey
# levels. Its middle is that of the spot within so many pixels.
_REACH, _DISTANCE_COST, _HALF = 7, 0.6, 3


def marker_places(view: int, frames: Iterable[Frame]) -> FloatArray:
    """Find both markers in pictures of a camera.

    Parameters
    ----------
    view : one of `VIEWS`
    frames : pictures of that camera

    Returns
    -------
    (frames, 2, 2) pixels, left and right marker
    """
    read = json.loads(READ.read_text(encoding="utf-8"))[f"camera {view + 1}"]
    return np.array(
        [[_spot(frame, _expected(read[side], frame.index)) for side in SIDES] for frame in frames]
    )


def _expected(places: dict[str, list[float]], frame: int) -> FloatArray:
    """Where a marker should be in a frame, (2,), from places read in some."""
    known = np.array([int(number) for number in places])
    return np.array([np.interp(frame, known, line) for line in np.array(list(places.values())).T])


def _spot(frame: Frame, expected: FloatArray) -> FloatArray:
    """Return the middle of the bright spot near a place, (2,)."""
    room = _REACH + _HALF + round(4 * _AROUND)
    x, y = (int(value) for value in expected)
    part = frame.crop(x - room, y - room, x + room + 1, y + room + 1)
    grey = cv2.cvtColor(part, cv2.COLOR_RGB2GRAY).astype(np.float32)
    bright = cv2.GaussianBlur(grey, (0, 0), _SPOT) - cv2.GaussianBlur(grey, (0, 0), _AROUND)
    steps = np.arange(-_REACH, _REACH + 1)
    across, down = np.meshgrid(x + steps, y + steps)
    near = bright[
        room - _REACH : room + _REACH + 1, room - _REACH : room + _REACH + 1
    ] - _DISTANCE_COST * ((across - expected[0]) ** 2 + (down - expected[1]) ** 2)
    row, column = np.unravel_index(int(np.argmax(near)), near.shape)
    middle = np.array([column, row]) + room - _REACH
    steps = np.arange(-_HALF, _HALF + 1)
    spot = np.maximum(bright[middle[1] + steps[:, None], middle[0] + steps], 0.0)
    inside = np.array([spot.sum(axis=0) @ steps, spot.sum(axis=1) @ steps]) / spot.sum()
    return np.asarray(middle + inside + (x - room, y - room), float)
