"""Pictures in the colours and the size in which lines are searched."""

import cv2
import numpy as np
from numpy.typing import NDArray

from stance.types import ImageArray


def convert_to_lab(picture: ImageArray, shrink: float) -> NDArray[np.float32]:
    """Convert a picture to CIE L*a*b*.

    Parameters
    ----------
    picture
        (height, width, 3) RGB
    shrink
        factor by which it is made smaller; 1 or more for not at all

    Returns
    -------
    (height, width, 3), L* from 0 to 100
    """
    small = picture
    if shrink < 1.0:
        new = (round(picture.shape[1] * shrink), round(picture.shape[0] * shrink))
        small = np.asarray(cv2.resize(picture, new, interpolation=cv2.INTER_AREA), np.uint8)
    unit_light = np.ascontiguousarray(small).astype(np.float32) / np.float32(255)
    return np.asarray(cv2.cvtColor(unit_light, cv2.COLOR_RGB2LAB), np.float32)
