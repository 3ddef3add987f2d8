"""Where in the picture feet move."""

from collections.abc import Sequence

import cv2
import numpy as np

from stance.types import FloatArray, ImageArray


def find_moving_feet(pictures: Sequence[ImageArray], background: ImageArray) -> FloatArray:
    """Where people who move stand: the lowest points of what differs from the background.

    Parameters
    ----------
    pictures
        (height, width, 3) RGB each, from the same place as the background.
    background
        (height, width, 3) RGB, the same without what moves.

    Returns
    -------
    (n, 2) pixels, all pictures together.
    """
    long_side = max(background.shape[:2])
    kernel = np.ones((max(3, long_side // 100),) * 2, np.uint8)
    feet = []
    for picture in pictures:
        change = cv2.absdiff(picture, background).max(axis=2)
        mask = cv2.morphologyEx((change > 30).astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3)))
        mask = cv2.dilate(mask, kernel)
        count, _, boxes, middles = cv2.connectedComponentsWithStats(mask)
        for number in range(1, count):
            _, top, _, height, _ = boxes[number]
            if height > 0.08 * long_side:
                feet.append((middles[number][0], top + height - kernel.shape[0] / 2))
    return np.asarray(feet, float).reshape(-1, 2)
