"""Faces made unknowable: all heads that are followed, and all that is not a player's body.

Nobody searches for faces. The head of a player, a partner or an opponent lies where the pose has
it; whoever else is in the picture, a coach or other children, is where the players are not.
"""

from collections.abc import Sequence

import cv2
import numpy as np
import numpy.typing as npt

from stance.people.landmarks import (
    LEFT_ANKLE,
    LEFT_ELBOW,
    LEFT_HEEL,
    LEFT_HIP,
    LEFT_INDEX,
    LEFT_KNEE,
    LEFT_SHOULDER,
    LEFT_TOE,
    LEFT_WRIST,
    RIGHT_ANKLE,
    RIGHT_ELBOW,
    RIGHT_HEEL,
    RIGHT_HIP,
    RIGHT_INDEX,
    RIGHT_KNEE,
    RIGHT_SHOULDER,
    RIGHT_TOE,
    RIGHT_WRIST,
)
from stance.types import FloatArray, ImageArray

# Landmarks of a head are the first ones.
_HEAD = 11

# A head's size in a body's: half of its height with hair, and how far its middle is above the
# shoulders (D. A. Winter, Biomechanics and Motor Control of Human Movement, 4th edition 2009,
# figure 4.1: 0.13 and 0.13 of the stature).
_HEAD_RADIUS, _ABOVE_SHOULDERS = 0.11, 0.13

# What stays sharp of a player: the trunk and the limbs, and so much around them in parts of the
# body's height, for clothes and shoes. Between arms and legs others can be seen.
_TRUNK = (LEFT_SHOULDER, RIGHT_SHOULDER, RIGHT_HIP, LEFT_HIP)
_LIMBS = (
    (LEFT_SHOULDER, LEFT_ELBOW, LEFT_WRIST, LEFT_INDEX),
    (RIGHT_SHOULDER, RIGHT_ELBOW, RIGHT_WRIST, RIGHT_INDEX),
    (LEFT_HIP, LEFT_KNEE, LEFT_ANKLE, LEFT_HEEL, LEFT_TOE),
    (RIGHT_HIP, RIGHT_KNEE, RIGHT_ANKLE, RIGHT_HEEL, RIGHT_TOE),
)
_MARGIN = 0.08

# How far from a court's line the picture stays sharp, in parts of its long side: enough to see
# whether a line that is drawn there lies on the painted one, and too little for a face.
_BESIDE_LINES = 0.007

# Cells that are left of a head across, and of a picture's long side: no face of a bystander who is
# as near as a player has more.
_CELLS_OF_HEAD, _CELLS_OF_PICTURE = 4.0, 60.0


def blur_faces(
    image: ImageArray,
    bodies: Sequence[FloatArray],
    others: Sequence[FloatArray] = (),
    lines: Sequence[FloatArray] = (),
) -> ImageArray:
    """A picture in which no face can be known.

    Parameters
    ----------
    image
        (height, width, 3) uint8 RGB; stays as it is
    bodies
        landmarks (33, 2) of each player in pixels, NaN where unknown; who has no body here is
        blurred
    others
        the same of people who are followed but not shown, whose heads may be before or behind a
        player
    lines
        of the court, each (points, 2) pixels: what is on them stays sharp, but for heads

    Returns
    -------
    (height, width, 3) uint8 RGB
    """
    sharp = np.zeros(image.shape[:2], np.uint8)
    heads = np.zeros(image.shape[:2], np.uint8)
    cell = max(image.shape[:2]) / _CELLS_OF_PICTURE
    for body in bodies:
        _mark_body(sharp, body)
    width = max(1, round(2 * _BESIDE_LINES * max(image.shape[:2])))
    cv2.polylines(sharp, [line.round().astype(np.int32) for line in lines], False, 1, width)
    for body in (*bodies, *others):
        tall = _measure_height(body)
        radius = _HEAD_RADIUS * tall
        for place in _find_head(body, tall):
            cv2.circle(heads, place.round().astype(int).tolist(), round(radius), 1, -1)
        cell = max(cell, 2 * radius / _CELLS_OF_HEAD)
    keep = (sharp & (1 - heads)).astype(bool)
    return np.where(keep[:, :, None], image, _blur(image, cell)).astype(np.uint8)


def _measure_height(body: FloatArray) -> float:
    """A body's greatest extent in a picture; nothing where too little of it is known."""
    known = body[np.isfinite(body).all(axis=1)]
    return max(float(np.ptp(known, axis=0).max()), 1.0) if len(known) >= 3 else 0.0


def _mark_body(sharp: npt.NDArray[np.uint8], body: FloatArray) -> None:
    """Mark trunk and limbs as far as they are known."""
    thickness = max(1, round(2 * _MARGIN * _measure_height(body)))
    for chain in (*_LIMBS, (*_TRUNK, _TRUNK[0])):
        points = [body[number] for number in chain if np.isfinite(body[number]).all()]
        if not points:
            continue
        drawn = np.array(points).round().astype(np.int32)
        if chain[0] == chain[-1]:
            cv2.fillPoly(sharp, [drawn], 1)
        cv2.polylines(sharp, [drawn], False, 1, thickness)


def _find_head(body: FloatArray, tall: float) -> list[FloatArray]:
    """Places (2,) around which a head lies: its landmarks or, without them, above the shoulders.

    None where the body's height is not known.
    """
    known = [place for place in body[:_HEAD] if np.isfinite(place).all()]
    if not tall:
        return []
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
