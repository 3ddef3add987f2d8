"""Pictures of invented halls, and clips of them."""

import cv2
import numpy as np

from stance.video.writer import VideoWriter

SIZE = (1120, 560)


def hall(size=(640, 360), seed=0):
    """A picture with corners all over it."""
    rng = np.random.default_rng(seed)
    width, height = size
    image = np.full((height, width, 3), 90, np.uint8)
    for _ in range(150):
        low = rng.integers(0, (width, height))
        high = low + rng.integers(8, 60, 2)
        cv2.rectangle(image, low.tolist(), high.tolist(), rng.integers(0, 255, 3).tolist(), -1)
    return image


def write(path, pictures, rate=30.0):
    height, width = pictures[0].shape[:2]
    with VideoWriter(path, (width, height), rate, crf=15) as video:
        for index, picture in enumerate(pictures):
            video.write(picture, index / rate)
    return path, (width, height)


def moved(image, dx, dy, turn_deg=0.0, scale=1.0):
    height, width = image.shape[:2]
    change = cv2.getRotationMatrix2D((width / 2, height / 2), turn_deg, scale)
    change[:, 2] += dx, dy
    shown = cv2.warpAffine(image, change, (width, height), borderMode=cv2.BORDER_REFLECT)
    return shown, np.vstack([change, [0, 0, 1]])


def bare_hall_with_people(shift=0, marks=(170, 160, 140)):
    """A bare hall with few corners, and people with many who are elsewhere in every picture."""
    rng = np.random.default_rng(3)
    bare = np.full((360, 640, 3), 90, np.uint8)
    for x in range(20, 640, 50):
        for y in range(20, 340, 70):
            cv2.rectangle(bare, (x, y), (x + 9, y + 7), marks, -1)
    bare = np.roll(bare, shift, axis=1)
    pictures = []
    for _ in range(75):
        picture = bare.copy()
        x, y = rng.integers(0, (420, 160))
        clothes = rng.integers(50, 130, (20, 22, 3)).astype(np.uint8)
        picture[y : y + 200, x : x + 220] = np.repeat(np.repeat(clothes, 10, axis=0), 10, axis=1)
        pictures.append(picture)
    return pictures
