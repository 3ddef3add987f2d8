"""Faces made unknowable: the players' heads, and all of a picture that is far from the players.

Nobody searches for faces. A player's head lies where the pose has it; whoever else is in the
picture, a coach or other children, is where the players are not.
"""

from collections.abc import Sequence

import cv2
import numpy as np

from stance.people.landmarks import LEFT_SHOULDER, RIGHT_SHOULDER
from stance.types import FloatArray, ImageArray

# Landmarks of a head are the first ones.
_HEAD = 11

# A head's size in a body's: half of its height with hair, and how far its middle is above the
# shoulders (D. A. Winter, Biomechanics and Motor Control of Human Movement, 4th edition 2009,
# figure 4.1: 0.13 and 0.13 of the stature).
_HEAD_RADIUS, _ABOVE_SHOULDERS = 0.11, 0.13

# So much around the landmarks stays sharp, in parts of the body's height: hands, shoes, racket.
_MARGIN = 0.12

# Cells that are left of a head across, and of a picture's long side: no face of a bystander who is
# as near as a player has more.
_CELLS_OF_HEAD, _CELLS_OF_PICTURE = 4.0, 60.0


def blur_faces(image: ImageArray, bodies: Sequence[FloatArray]) -> ImageArray:
    """A picture in which no face can be known.

    Parameters
    ----------
    image
        (height, width, 3) uint8 RGB; stays as it is
    bodies
        landmarks (33, 2) of each player in pixels, NaN where unknown; who has no body here is
        blurred

    Returns
    -------
    (height, width, 3) uint8 RGB
    """
    sharp = np.zeros(image.shape[:2], np.uint8)
    heads = np.zeros(image.shape[:2], np.uint8)
    cell = max(image.shape[:2]) / _CELLS_OF_PICTURE
    for body in bodies:
        known = body[np.isfinite(body).all(axis=1)].astype(np.float32)
        if len(known) < 3:
            continue
        tall = max(float(np.ptp(known, axis=0).max()), 1.0)
        hull = cv2.convexHull(known).round().astype(np.int32)
        cv2.fillConvexPoly(sharp, hull, 1)
        cv2.polylines(sharp, [hull], True, 1, max(1, round(2 * _MARGIN * tall)))
        radius = _HEAD_RADIUS * tall
        for place in _find_head(body, tall):
            cv2.circle(heads, place.round().astype(int).tolist(), round(radius), 1, -1)
        cell = max(cell, 2 * radius / _CELLS_OF_HEAD)
    keep = (sharp & (1 - heads)).astype(bool)
    return np.where(keep[:, :, None], image, _blur(image, cell)).astype(np.uint8)


def _find_head(body: FloatArray, tall: float) -> list[FloatArray]:
    """Places (2,) around which a head lies: its landmarks or, without them, above the shoulders."""
    known = [place for place in body[:_HEAD] if np.isfinite(place).all()]
    if known:
        return [*known, np.mean(known, axis=0)]
    shoulders = [
        body[number]
        for number in (LEFT_SHOULDER, RIGHT_SHOULDER)
        if np.isfinite(body[number]).all()
    ]
    if not shoulders:
        return []
    middle = np.mean(shoulders, axis=0)
    # Bent forward, a head is before the shoulders and no more above them.
    return [middle + [x * tall, -_ABOVE_SHOULDERS * tall] for x in (-_HEAD_RADIUS, 0, _HEAD_RADIUS)]


def _blur(image: ImageArray, cell: float) -> ImageArray:
    """The picture with what is smaller than some pixels averaged away."""
    height, width = image.shape[:2]
    size = max(1, round(width / cell)), max(1, round(height / cell))
    small = cv2.resize(image, size, interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.resize(small, (width, height), interpolation=cv2.INTER_LINEAR), np.uint8)
