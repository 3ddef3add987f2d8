"""How the camera moved while a clip was filmed: what is known of each of its frames."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stance.camera_motion.registration import grid_moved
from stance.types import FloatArray


@dataclass(frozen=True)
class Part:
    """A part of the clip in which the camera keeps its place: first and last picture, seconds."""

    first_frame: int
    last_frame: int
    start_s: float
    end_s: float

    @property
    def duration_s(self) -> float:
        """How long the part is, seconds."""
        return self.end_s - self.start_s


@dataclass(frozen=True, eq=False)
class CameraMotion:
    """How the camera moved in a clip.

    Attributes
    ----------
    image_size : (width, height) of the upright picture, pixels.
    parts : parts between which the camera was moved, in order; one where it never was.
    used : the longest of them, which is measured.
    reference_frame : the picture of the used part that the others are laid onto.
    frames : (looks,) pictures of the used part that were looked at.
    to_reference : (looks, 3, 3) homographies that take a pixel of such a picture to where the
        reference picture shows the same; all the identity for a camera that stands.
    sway_px : root mean square distance by which the picture's content is off the reference
        picture's, over the used part and the whole picture; pixels.
    stands : whether that is too little to be told from none.
    """

    image_size: tuple[int, int]
    parts: tuple[Part, ...]
    used: Part
    reference_frame: int
    frames: NDArray[np.int_]
    to_reference: FloatArray
    sway_px: float
    stands: bool


def homography(motion: CameraMotion, frame: int) -> FloatArray:
    """Pixels of a picture of the used part to those of the reference picture, (3, 3).

    A picture that was not looked at has that of the nearest that was.
    """
    place = int(np.searchsorted(motion.frames, frame))
    near = [k for k in (place - 1, place) if 0 <= k < len(motion.frames)]
    nearest = min(near, key=lambda k: abs(int(motion.frames[k]) - frame))
    change: FloatArray = motion.to_reference[nearest]
    return change


def to_reference(motion: CameraMotion, frames: NDArray[np.int_], pixels: FloatArray) -> FloatArray:
    """Where the reference picture shows what pictures of the used part show at some pixels.

    Parameters
    ----------
    motion : of the clip.
    frames : (looks,) pictures.
    pixels : (looks, points, 2); NaN stays NaN.

    Returns
    -------
    (looks, points, 2) pixels.
    """
    if motion.stands:
        return pixels
    return np.stack(
        [
            grid_moved(homography(motion, int(frame)), shown)
            for frame, shown in zip(frames, pixels, strict=True)
        ]
    )
