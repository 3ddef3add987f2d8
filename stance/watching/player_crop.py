"""Crops: the part of a frame around a player, kept for close observations and the report."""

from dataclasses import dataclass

import cv2

from stance.people.landmarks import Pose
from stance.people.observation import cut_out
from stance.types import ImageArray
from stance.video.frame import Frame
from stance.watching.watched_clip import CompressedCrop

KEY_QUALITY, PASSING_QUALITY = 95, 80
"""JPEG quality of crops that are drawn on, and of those that only show a moment."""

# Crops are this much larger than what the pose model sees, for the pictures in the report.
_CROP_FACTOR = 1.15


@dataclass(frozen=True)
class PlayerCrop:
    """The part of a frame around a player.

    Attributes
    ----------
    image
        (height, width, 3) RGB
    left, top
        its top left corner, pixels of the picture
    pose
        the player's, pixels of the picture
    """

    image: ImageArray
    left: int
    top: int
    pose: Pose

    @property
    def pose_in_crop(self) -> Pose:
        """The pose in pixels of the crop."""
        return self.pose.moved(-self.left, -self.top)


def take_crop(frame: Frame, pose: Pose) -> PlayerCrop | None:
    """Copy the part of a frame around a pose; None where hardly any of it is in the picture."""
    part = cut_out(frame, pose.box, _CROP_FACTOR)
    if part is None:
        return None
    # A view would keep all that was converted with it, 30 MB over two players' spells.
    return PlayerCrop(part.image.copy(), part.left, part.top, pose)


def compress_crop(crop: PlayerCrop, quality: int = KEY_QUALITY) -> CompressedCrop:
    """Compress a crop as JPEG of a quality from 0 to 100."""
    bgr = cv2.cvtColor(crop.image, cv2.COLOR_RGB2BGR)
    _, data = cv2.imencode(".jpg", bgr, [cv2.IMWRITE_JPEG_QUALITY, quality])
    return CompressedCrop(data.tobytes(), crop.left, crop.top)
