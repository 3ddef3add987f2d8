"""Lays pictures and points of a swaying camera on its reference picture."""

from collections.abc import Iterable, Iterator
from functools import partial

import cv2
import numpy as np

from stance.camera_motion.motion import CameraMotion, homography
from stance.types import ImageArray
from stance.video.frame import Frame, WarpedFrame


def steadied(frames: Iterable[Frame], motion: CameraMotion) -> Iterator[Frame]:
    """Pass on the pictures of the used part, each laid onto the reference picture.

    What the reference picture shows beyond a picture's edge is filled with the edge. Pictures of
    a camera that stands are passed on as they are.
    """
    for frame in frames:
        laid = laid_frame(frame, motion)
        if laid is not None:
            yield laid


def laid_frame(frame: Frame, motion: CameraMotion) -> Frame | None:
    """One picture as `steadied` passes it on, or None for one outside the used part."""
    if not motion.used.first_frame <= frame.index <= motion.used.last_frame:
        return None
    if motion.stands:
        return frame
    return WarpedFrame.of(frame, partial(laid_on_reference, frame=frame.index, motion=motion))


def laid_on_reference(image: ImageArray, frame: int, motion: CameraMotion) -> ImageArray:
    """One picture (height, width, 3) laid onto the reference picture."""
    if motion.stands:
        return image
    # OpenCV counts from the middle of the top left pixel.
    centred = _SHIFT_BACK @ homography(motion, frame) @ _SHIFT
    laid = cv2.warpPerspective(
        image, centred, motion.image_size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return laid.astype(np.uint8, copy=False)


_SHIFT = np.array([[1.0, 0.0, 0.5], [0.0, 1.0, 0.5], [0.0, 0.0, 1.0]])

_SHIFT_BACK = np.linalg.inv(_SHIFT)
