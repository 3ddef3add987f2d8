"""What a player looks like: colours worn, what the body covers, who hides whom."""

from collections.abc import Sequence
from dataclasses import dataclass

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
    TRUNK,
    Pose,
)
from stance.people.settings import SETTINGS
from stance.types import FloatArray, ImageArray
from stance.video.frame import Frame

# Limbs that are drawn as lines where a body is painted over.
_LIMBS = (
    (LEFT_SHOULDER, LEFT_ELBOW, LEFT_WRIST),
    (RIGHT_SHOULDER, RIGHT_ELBOW, RIGHT_WRIST),
    (LEFT_HIP, LEFT_KNEE, LEFT_ANKLE, LEFT_HEEL, LEFT_TOE),
    (RIGHT_HIP, RIGHT_KNEE, RIGHT_ANKLE, RIGHT_HEEL, RIGHT_TOE),
)

# The first landmarks are the head's.
_HEAD_LANDMARKS = 11


def middle_colour(image: ImageArray, where: npt.NDArray[np.bool_]) -> FloatArray:
    """Median of the colours of some pixels, counted, which takes a tenth of `numpy.median`'s time.

    Parameters
    ----------
    image
        (height, width, 3)
    where
        (height, width) whether a pixel counts; some must

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
    shape: tuple[int, int], poses: Sequence[FloatArray], limb_heights: float | None = None
) -> npt.NDArray[np.bool_]:
    """Tell which pixels the bodies of people cover, about.

    Parameters
    ----------
    shape
        (height, width) pixels
    poses
        (33, 2) pixels each
    limb_heights
        thickness of arms and legs, against the height of the pose; None for that of a body in close
        clothes

    Returns
    -------
    (height, width)
    """
    thickness = SETTINGS.appearance.limb_heights if limb_heights is None else limb_heights
    mask = np.zeros(shape, np.uint8)
    for pixels in poses:
        height = float(np.ptp(pixels[:, 1]))
        points = np.round(np.clip(pixels, -1e4, 1e4)).astype(np.int32)
        for limb in _LIMBS:
            cv2.polylines(mask, [points[list(limb)]], False, 255, max(2, round(thickness * height)))
        cv2.fillConvexPoly(mask, np.asarray(cv2.convexHull(points[TRUNK]), np.int32), 255)
        head = tuple(int(v) for v in points[:_HEAD_LANDMARKS].mean(axis=0))
        cv2.circle(mask, head, max(1, round(thickness * height)), 255, -1)
    return mask > 0


@dataclass(frozen=True)
class Coverage:
    """How much of a body others would cover if they stood in front of it.

    Attributes
    ----------
    share
        of the body, 0 to 1
    nose
        whether the nose is covered
    """

    share: float
    nose: bool


def covered_by(pose: Pose, others: Sequence[Pose]) -> Coverage:
    """Tell how much of a body others, in loose clothes, cover if they stand in front of it.

    Parameters
    ----------
    pose
        of who may be hidden
    others
        poses of those who may stand in front

    Returns
    -------
    Coverage
    """
    side = SETTINGS.stillness.thumbnail_px
    low = pose.pixels.min(axis=0)
    zoom = (side - 1) / float(np.ptp(pose.pixels, axis=0).max())
    places = [(person.pixels - low) * zoom for person in (pose, *others)]
    body = body_mask((side, side), places[:1])
    covered = body_mask((side, side), places[1:], SETTINGS.appearance.clothed_limb_heights)
    column, row = np.round(places[0][NOSE]).astype(int)
    return Coverage(float((body & covered).sum() / max(body.sum(), 1)), bool(covered[row, column]))


def colours_worn(frame: Frame, pose: Pose, others: Sequence[Pose] = ()) -> FloatArray:
    """Colours of shirt and shorts: two smoothed histograms in CIE L*a*b*.

    Parameters
    ----------
    frame
        the picture, with its time
    pose
        of the person
    others
        poses of those who may stand in front; what they cover is left out

    Returns
    -------
    (1024,) 512 shares for the shirt, then 512 for the shorts; their sum is 1
    """
    settings = SETTINGS.appearance
    bins = settings.colour_bins**3
    nothing = np.full(bins, 1.0 / bins)
    points = pose.pixels[
        [LEFT_SHOULDER, RIGHT_SHOULDER, RIGHT_HIP, LEFT_HIP, RIGHT_KNEE, LEFT_KNEE]
    ]
    width, height = frame.size
    low = np.clip(points.min(axis=0), 0, (width - 2, height - 2)).astype(int)
    high = np.clip(points.max(axis=0) + 2, low + 2, (width, height)).astype(int)
    image = frame.crop(int(low[0]), int(low[1]), int(high[0]), int(high[1]))
    scale = min(1.0, settings.colour_image_px / max(image.shape[:2]))
    small = cv2.resize(image, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    if small.size == 0:
        return np.concatenate([nothing, nothing]) / 2.0
    colours = cv2.cvtColor(small, cv2.COLOR_RGB2LAB)
    parts = []
    covered = body_mask(small.shape[:2], [(other.pixels - low) * scale for other in others])
    for corners in (points[:4], points[[3, 2, 4, 5]]):
        mask = np.zeros(small.shape[:2], np.uint8)
        cv2.fillConvexPoly(mask, np.round((corners - low) * scale).astype(np.int32), 1)
        mask[covered] = 0
        counts = cv2.calcHist(
            [colours],
            [0, 1, 2],
            mask,
            [settings.colour_bins] * 3,
            # Of a and b, clothes take the middle of the range.
            [0, 256, 64, 192, 64, 192],
        )
        smooth = scipy.ndimage.gaussian_filter(counts.astype(float), settings.colour_blur_bins)
        total = float(smooth.sum())
        parts.append(smooth.ravel() / total if total > 0 else nothing)
    return np.concatenate(parts) / 2.0


def colour_distance(first: FloatArray, second: FloatArray) -> float:
    """Hellinger distance of two sets of colours, 0 to 1.

    Parameters
    ----------
    first, second
        (bins,) shares that sum to 1
    """
    return float(np.sqrt(max(1.0 - np.sqrt(first * second).sum(), 0.0)))
