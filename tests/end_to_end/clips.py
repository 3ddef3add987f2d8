"""Clips for tests of the whole program."""

from pathlib import Path

import numpy as np

from stance.video.writer import VideoWriter


def make_clip(path: Path, frames: int = 20, size: tuple[int, int] = (320, 240)) -> Path:
    """A clip of an empty hall."""
    width, height = size
    picture = np.full((height, width, 3), 90, np.uint8)
    picture[height // 2 :] = (60, 120, 70)
    with VideoWriter(path, size, 30.0) as writer:
        for i in range(frames):
            writer.write(picture, i / 30.0)
    return path
