"""The place of the camera from which a clip shows the court, and the court found from there."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from stance.camera_motion.background import median_picture, read_still_pictures
from stance.camera_motion.motion import CameraMotion
from stance.camera_motion.segments import estimate_camera_motions
from stance.court.calibration import FoundCourt
from stance.court.detection.detect import find_court
from stance.court.detection.feet import find_moving_feet
from stance.types import ImageArray


@dataclass(frozen=True, eq=False)
class CourtPlace:
    """Where the camera stands while a clip shows the court.

    Attributes
    ----------
    motion
        the camera's, of which the parts are used that show the court
    background
        (height, width, 3) uint8, RGB: what stands still there
    found
        the court searched in it
    """

    motion: CameraMotion
    background: ImageArray
    found: FoundCourt


def find_court_place(clip: str | Path, image_size: tuple[int, int]) -> CourtPlace:
    """Find the place of the camera from which the court is found, or else where it stands longest.

    A clip may have been cut to something that is shown longer than the court.

    Parameters
    ----------
    clip
        path of the video
    image_size
        (width, height) of its upright picture, pixels

    Raises
    ------
    InputError
        If the clip can't be read, or the camera keeps moving so that no part can be measured.
    """
    places: list[CourtPlace] = []
    for motion in estimate_camera_motions(clip, image_size):
        pictures = read_still_pictures(clip, motion)
        background = median_picture(pictures)
        places.append(CourtPlace(motion, background, search_court(pictures, background)))
        if places[-1].found.court is not None:
            return places[-1]
    return places[0]


def search_court(pictures: Sequence[ImageArray], background: ImageArray) -> FoundCourt:
    """Search the court in what stands still in pictures of a clip.

    Parameters
    ----------
    pictures
        (height, width, 3) uint8 each, RGB, of a camera that stands
    background
        their median
    """
    return find_court(background, find_moving_feet(pictures, background))
