"""How the camera moved while a clip was filmed: what is known of each of its frames."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stance.results.model import Notice
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
    image_size
        (width, height) of the upright picture, pixels.
    parts
        parts between which the camera was moved, in order; one where it never was.
    used
        the longest of them, which is measured.
    reference_frame
        the picture of the used part that the others are warped onto.
    frames
        (registrations,) pictures of the used part that were registered.
    to_reference
        (registrations, 3, 3) homographies that take a pixel of such a picture to where the
        reference picture shows the same; all the identity for a camera that stands.
    sway_px
        root mean square distance by which the picture's content is off the reference picture's,
        over the used part and the whole picture; pixels.
    stands
        whether that is too little to be told from none.
    """

    image_size: tuple[int, int]
    parts: tuple[Part, ...]
    used: Part
    reference_frame: int
    frames: NDArray[np.int_]
    to_reference: FloatArray
    sway_px: float
    stands: bool


def homography_to_reference(motion: CameraMotion, frame: int) -> FloatArray:
    """Give the homography from a picture of the used part to the reference picture.

    A picture that was not registered has that of the nearest that was.

    Returns
    -------
    (3, 3), for pixels that count from the picture's corner
    """
    place = int(np.searchsorted(motion.frames, frame))
    near = [k for k in (place - 1, place) if 0 <= k < len(motion.frames)]
    nearest = min(near, key=lambda k: abs(int(motion.frames[k]) - frame))
    to_reference: FloatArray = motion.to_reference[nearest]
    return to_reference


def motion_notices(motion: CameraMotion) -> tuple[Notice, ...]:
    """Say what a coach should know about the camera's motion: `camera_moved`, `camera_sways`."""
    notices = []
    if len(motion.parts) > 1:
        used = motion.used
        times = ", ".join(f"{part.start_s:.1f} s" for part in motion.parts[1:])
        notices.append(
            Notice(
                "camera_moved",
                f"The camera was moved (from {times} on it stands elsewhere), so only the longest "
                f"part is measured: {used.start_s:.1f} to {used.end_s:.1f} s. Stand the phone "
                "where nobody knocks it, or cut the clip there and measure each part by itself.",
            )
        )
    if not motion.stands:
        notices.append(
            Notice(
                "camera_sways",
                f"The camera sways, by {motion.sway_px:.0f} pixels on average; that was taken out. "
                "A phone that stands still measures a little better."
                if motion.sway_px >= 1.5
                else "The camera sways a little; that was taken out.",
            )
        )
    return tuple(notices)
