"""The still background of a clip: its picture without people."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from stance.camera_motion.motion import CameraMotion
from stance.camera_motion.stabilising import laid_on_reference
from stance.types import ImageArray
from stance.video.reader import read_frames_at, read_key_pictures

BACKGROUND_PICTURES = 25

LEAST_BACKGROUND_PICTURES = 7

HELD_BYTES = 200_000_000
"""The background is the median of this many pictures, of fewer where they are very large."""

STRIP_ROWS = 32


def background_picture(clip: str | Path, motion: CameraMotion) -> ImageArray:
    """The clip's picture without the people who move about in it.

    Returns
    -------
    (height, width, 3) uint8, RGB, upright.
    """
    return without_people(still_pictures(clip, motion))


def still_pictures(clip: str | Path, motion: CameraMotion) -> list[ImageArray]:
    """Pictures (height, width, 3) spread over the used part, laid onto the reference picture."""
    count = _most_held(motion.image_size)
    wanted = np.linspace(motion.used.first_frame, motion.used.last_frame, count).round()
    return [
        laid_on_reference(frame.image, frame.index, motion)
        for frame in read_frames_at(clip, [int(index) for index in wanted])
    ]


def quick_pictures(clip: str | Path, image_size: tuple[int, int]) -> list[ImageArray]:
    """Pictures as `still_pictures` gives them of a camera that stands, without reading the clip.

    Few or none where the clip holds too few pictures that can be read by themselves.
    """
    pictures = read_key_pictures(clip, _most_held(image_size))
    return pictures if len(pictures) >= LEAST_BACKGROUND_PICTURES else []


def _most_held(image_size: tuple[int, int]) -> int:
    """How many pictures of a size may be held."""
    return int(np.clip(HELD_BYTES // (3 * image_size[0] * image_size[1]), 5, BACKGROUND_PICTURES))


def without_people(pictures: Sequence[ImageArray]) -> ImageArray:
    """The median of pictures (height, width, 3) that a camera at rest took."""
    background = np.empty_like(pictures[0])
    for top in range(0, len(background), STRIP_ROWS):
        strip = np.stack([picture[top : top + STRIP_ROWS] for picture in pictures])
        middle = len(pictures) // 2
        background[top : top + STRIP_ROWS] = np.partition(strip, middle, axis=0)[middle]
    return background
