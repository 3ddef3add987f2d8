"""What a player looks like: colours worn, the body's outline, who hides whom."""

from collections.abc import Sequence

import cv2
import numpy as np
import numpy.typing as npt
import scipy

from stance.people.landmarks import (
    LEFT_ANKLE,
    LEFT_ELBOW,
    LEFT_HEEL,
    LEFT_HIP,
    LEFT_KNEE,
    LEFT_SHOULDER,
    LEFT_TOE,
    LEFT_WRIST,
    NOSE,
    RIGHT_ANKLE,
    RIGHT_ELBOW,
    RIGHT_HEEL,
    RIGHT_HIP,
    RIGHT_KNEE,
    RIGHT_SHOULDER,
    RIGHT_TOE,
    RIGHT_WRIST,
    Pose,
)
from stance.people.stillness import GLANCE
from stance.types import FloatArray, ImageArray
from stance.video.frame import Frame

TRUNK = [LEFT_SHOULDER, RIGHT_SHOULDER, LEFT_HIP, RIGHT_HIP]

# What of a body is painted over: arms and legs as lines this thick, against the height of the
# pose, the trunk, and the head around the first landmarks.
_LIMBS = (
    (LEFT_SHOULDER, LEFT_ELBOW, LEFT_WRIST),
    (RIGHT_SHOULDER, RIGHT_ELBOW, RIGHT_WRIST),
    (LEFT_HIP, LEFT_KNEE, LEFT_ANKLE, LEFT_HEEL, LEFT_TOE),
    (RIGHT_HIP, RIGHT_KNEE, RIGHT_ANKLE, RIGHT_HEEL, RIGHT_TOE),
)

_LIMB, _HEAD = 0.08, 11

# In loose clothes limbs are so thick. Who is seen past somebody may be made of what of these has
# not been painted over: unless the head shows and they are so far apart, or where they should be,
# or they are farther apart, as parts of a height, or no more than this part would be covered. On
# tune clips poses made of leftovers had covered heads, were at most 0.28 apart and at least 0.8
# covered.
CLOTHED, APART, FAR_APART, MOST_HIDDEN = 0.2, 0.2, 0.35, 0.6


def middle_colour(image: ImageArray, where: npt.NDArray[np.bool_]) -> FloatArray:
    """Median of the colours of some pixels, counted, which takes a tenth of `numpy.median`'s time.

    Parameters
    ----------
    image : (height, width, 3)
    where : (height, width) whether a pixel counts; some must

    Returns
    -------
    (3,)
    """
    mask = where.astype(np.uint8)
    counts = np.stack(
        [cv2.calcHist([image], [channel], mask, [256], [0, 256]).ravel() for channel in range(3)]
    )
    up_to, pixels = counts.cumsum(axis=1, dtype=int), int(mask.sum())
    middle = [(up_to <= rank).sum(axis=1) for rank in ((pixels - 1) // 2, pixels // 2)]
    return np.asarray(np.mean(middle, axis=0))


def body_mask(
    shape: tuple[int, int], poses: Sequence[FloatArray], thickness: float = _LIMB
) -> npt.NDArray[np.bool_]:
    """Tell which pixels the bodies of people cover, about.

    Parameters
    ----------
    shape : (height, width) pixels
    poses : each (33, 2) pixels
    thickness : of arms and legs, against the height of the pose

    Returns
    -------
    (height, width)
    """
    mask = np.zeros(shape, np.uint8)
    for pixels in poses:
        height = float(np.ptp(pixels[:, 1]))
        points = np.round(np.clip(pixels, -1e4, 1e4)).astype(np.int32)
        for limb in _LIMBS:
            cv2.polylines(mask, [points[list(limb)]], False, 255, max(2, round(thickness * height)))
        cv2.fillConvexPoly(mask, np.asarray(cv2.convexHull(points[TRUNK]), np.int32), 255)
        head = tuple(int(v) for v in points[:_HEAD].mean(axis=0))
        cv2.circle(mask, head, max(1, round(thickness * height)), 255, -1)
    return mask > 0


def hidden(pose: Pose, others: Sequence[Pose]) -> tuple[float, bool]:
    """Share of a body that others, in loose clothes, cover if they stand in front of it.

    Parameters
    ----------
    pose : Pose
    others : of those who may stand in front

    Returns
    -------
    The share, 0 to 1, and whether the nose is covered
    """
    low = pose.pixels.min(axis=0)
    zoom = (GLANCE - 1) / float(np.ptp(pose.pixels, axis=0).max())
    places = [(one.pixels - low) * zoom for one in (pose, *others)]
    shape = (GLANCE, GLANCE)
    body, covered = body_mask(shape, places[:1]), body_mask(shape, places[1:], CLOTHED)
    column, row = np.round(places[0][NOSE]).astype(int)
    return float((body & covered).sum() / max(body.sum(), 1)), bool(covered[row, column])


def colours_worn(frame: Frame, pose: Pose, others: Sequence[Pose] = ()) -> FloatArray:
    """Colours of shirt and shorts: two smoothed histograms in CIE L*a*b*, (1024,).

    What others cover is left out.
    """
    nothing = np.full(2 * 512, 1.0 / (2 * 512))
    points = pose.pixels[
        [LEFT_SHOULDER, RIGHT_SHOULDER, RIGHT_HIP, LEFT_HIP, RIGHT_KNEE, LEFT_KNEE]
    ]
    width, height = frame.size
    low = np.clip(points.min(axis=0), 0, (width - 2, height - 2)).astype(int)
    high = np.clip(points.max(axis=0) + 2, low + 2, (width, height)).astype(int)
    image = frame.crop(int(low[0]), int(low[1]), int(high[0]), int(high[1]))
    scale = min(1.0, 64.0 / max(image.shape[:2]))
    small = cv2.resize(image, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    if small.size == 0:
        return nothing
    colours = cv2.cvtColor(small, cv2.COLOR_RGB2LAB)
    parts = []
    covered = body_mask(small.shape[:2], [(other.pixels - low) * scale for other in others])
    for corners in (points[:4], points[[3, 2, 4, 5]]):
        mask = np.zeros(small.shape[:2], np.uint8)
        cv2.fillConvexPoly(mask, np.round((corners - low) * scale).astype(np.int32), 1)
        mask[covered] = 0
        counts = cv2.calcHist([colours], [0, 1, 2], mask, [8, 8, 8], [0, 256, 64, 192, 64, 192])
        # Light and blur move colours by a bin or so.
        smooth = scipy.ndimage.gaussian_filter(counts.astype(float), 1.0)
        total = float(smooth.sum())
        parts.append(smooth.ravel() / total if total > 0 else nothing[:512] * 2)
    return np.concatenate(parts) / 2.0


def colour_distance(one: FloatArray, two: FloatArray) -> float:
    """Hellinger distance of two sets of colours, 0 to 1."""
    return float(np.sqrt(max(1.0 - np.sqrt(one * two).sum(), 0.0)))
