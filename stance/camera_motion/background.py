"""The still background of a clip: its picture without people."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from stance.camera_motion.motion import CameraMotion
from stance.camera_motion.stabilising import warp_to_reference
from stance.types import ImageArray
from stance.video.reader import read_frames_at, read_key_pictures

BACKGROUND_PICTURES = 25
"""The background is the median of this many pictures, of fewer where they are very large."""

LEAST_BACKGROUND_PICTURES = 7
"""Fewer key pictures do not show the background: people may stay in place from one to the next."""

SOME_PICTURES = 5
"""So many key pictures show where lines are, people on some of them or not."""

HELD_BYTES = 200_000_000
"""Bytes that the pictures of one background may take."""

STRIP_ROWS = 32
"""Rows of which the median is taken at a time, so that it takes little memory."""


def read_still_pictures(clip: str | Path, motion: CameraMotion) -> list[ImageArray]:
    """Read pictures spread evenly over the used parts, warped onto the reference picture.

    Returns
    -------
    list of (height, width, 3) uint8, RGB, upright
    """
    count = _most_held(motion.image_size)
    used = np.concatenate([np.arange(p.first_frame, p.last_frame + 1) for p in motion.used])
    wanted = used[np.linspace(0, len(used) - 1, count).round().astype(int)]
    return [
        warp_to_reference(frame.image, frame.index, motion)
        for frame in read_frames_at(clip, [int(index) for index in wanted])
    ]


def read_quick_pictures(clip: str | Path, image_size: tuple[int, int]) -> list[ImageArray]:
    """Read pictures as `read_still_pictures` does for a camera that stands, from key pictures.

    Far faster, since nothing between them is decoded; none where the clip holds too few.
    """
    pictures = read_key_pictures(clip, _most_held(image_size))
    return pictures if len(pictures) >= LEAST_BACKGROUND_PICTURES else []


def read_some_pictures(clip: str | Path, image_size: tuple[int, int]) -> list[ImageArray]:
    """Read a few key pictures, fast; what moves stays in their median where the clip holds few."""
    return read_key_pictures(clip, min(SOME_PICTURES, _most_held(image_size)))


def _most_held(image_size: tuple[int, int]) -> int:
    """How many pictures of (width, height) pixels may be held."""
    return int(np.clip(HELD_BYTES // (3 * image_size[0] * image_size[1]), 5, BACKGROUND_PICTURES))


def median_picture(pictures: Sequence[ImageArray]) -> ImageArray:
    """Take the median of pictures of a camera at rest, which shows nobody who moves about.

    Parameters
    ----------
    pictures
        (height, width, 3) uint8 each; of an even number the upper of both middle values

    Returns
    -------
    (height, width, 3) uint8
    """
    background = np.empty_like(pictures[0])
    for top in range(0, len(background), STRIP_ROWS):
        strip = np.stack([picture[top : top + STRIP_ROWS] for picture in pictures])
        middle = len(pictures) // 2
        background[top : top + STRIP_ROWS] = np.partition(strip, middle, axis=0)[middle]
    return background
