"""Warps pictures of a swaying camera onto its reference picture."""

from functools import partial

import cv2
import numpy as np

from stance.camera_motion.motion import CameraMotion, homography_to_reference
from stance.types import ImageArray
from stance.video.frame import Frame, WarpedFrame

_CENTRE_TO_CORNER = np.array([[1.0, 0.0, 0.5], [0.0, 1.0, 0.5], [0.0, 0.0, 1.0]])
"""From OpenCV's pixels, which count from the middle of the top left one, to ours, which count from
its corner."""

_CORNER_TO_CENTRE = np.linalg.inv(_CENTRE_TO_CORNER)


def stabilise_frame(frame: Frame, motion: CameraMotion) -> Frame | None:
    """Warp a frame onto the reference picture, once it is asked for.

    Parameters
    ----------
    frame
        of the clip
    motion
        of the clip's camera

    Returns
    -------
    The frame as it is where the camera stands; None for one outside the used parts
    """
    if not any(part.first_frame <= frame.index <= part.last_frame for part in motion.used):
        return None
    if motion.stands:
        return frame
    return WarpedFrame.of(frame, partial(warp_to_reference, frame=frame.index, motion=motion))


def warp_to_reference(image: ImageArray, frame: int, motion: CameraMotion) -> ImageArray:
    """Warp a picture onto the reference picture.

    What the reference picture shows beyond the picture's edge is filled with the edge.

    Parameters
    ----------
    image
        (height, width, 3) uint8
    frame
        index of the picture in the clip
    motion
        of the clip's camera

    Returns
    -------
    (height, width, 3) uint8
    """
    if motion.stands:
        return image
    centred = _CORNER_TO_CENTRE @ homography_to_reference(motion, frame) @ _CENTRE_TO_CORNER
    warped = cv2.warpPerspective(
        image, centred, motion.image_size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return warped.astype(np.uint8, copy=False)
