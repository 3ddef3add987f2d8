"""Clips cut, slowed down and joined, as people edit what they filmed."""

from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np

from stance.types import ImageArray
from stance.video.reader import read_frames
from stance.video.writer import VideoWriter

CRF = 20.0


def read_pictures(clip: Path) -> list[ImageArray]:
    """All pictures of a clip."""
    return [frame.image for frame in read_frames(clip)]


def write_pictures(path: Path, pictures: Sequence[ImageArray], rate: float) -> Path:
    """Write pictures as a clip."""
    height, width = pictures[0].shape[:2]
    with VideoWriter(path, (width, height), rate, crf=CRF) as video:
        for number, picture in enumerate(pictures):
            video.write(picture, number / rate)
    return path


def slowed(pictures: Sequence[ImageArray], times: int) -> list[ImageArray]:
    """Slow motion: between two pictures the mixtures of both that editing programs make."""
    mixed = []
    for before, after in zip(pictures[:-1], pictures[1:], strict=True):
        mixed += [
            cv2.addWeighted(before, 1 - k / times, after, k / times, 0.0) for k in range(times)
        ]
    return [*mixed, pictures[-1]]


def close_up(
    pictures: Sequence[ImageArray], place: tuple[float, float], part: float
) -> list[ImageArray]:
    """A part of each picture as large as the picture.

    `place` is its middle in parts of the picture's width and height, `part` its size.
    """
    height, width = pictures[0].shape[:2]
    matrix = np.array([[1 / part, 0, width / 2], [0, 1 / part, height / 2]])
    matrix[:, 2] -= matrix[:, :2] @ (place[0] * width, place[1] * height)
    return [cv2.warpAffine(p, matrix, (width, height), flags=cv2.INTER_CUBIC) for p in pictures]
