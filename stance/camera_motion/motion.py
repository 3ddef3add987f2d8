"""How the camera moved while a clip was filmed: what is known of each of its frames."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stance.results.model import Notice, Pair
from stance.runtime.language import format_number, join_words
from stance.runtime.language import gettext as _
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
        parts between which the camera was moved or the clip was cut, in order; one where neither.
    used
        those of them that are measured, in order: in all of them the camera stands in one place.
    reference_frame
        the picture of the used parts that the others are warped onto.
    frames
        (registrations,) pictures of the used parts that were registered.
    to_reference
        (registrations, 3, 3) homographies that take a pixel of such a picture to where the
        reference picture shows the same; all the identity for a camera that stands.
    sway_px
        root mean square distance by which the picture's content is off the reference picture's,
        over the used parts and the whole picture; pixels.
    stands
        whether that is too little to be told from none.
    """

    image_size: tuple[int, int]
    parts: tuple[Part, ...]
    used: tuple[Part, ...]
    reference_frame: int
    frames: NDArray[np.int_]
    to_reference: FloatArray
    sway_px: float
    stands: bool


def homography_to_reference(motion: CameraMotion, frame: int) -> FloatArray:
    """Give the homography from a picture of the used parts to the reference picture.

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
        used = [(part.start_s, part.end_s) for part in motion.used]
        notices.append(
            Notice(
                "camera_moved",
                _(
                    "Only {times} of the clip are measured, where the camera stands in one place. "
                    "From {others} it shows something else or stands elsewhere. If the phone was "
                    "knocked, stand it where nobody knocks it; to measure what was left out, cut "
                    "it out as a clip of its own."
                ).format(times=_list_times(used), others=_list_times(_left_out(motion))),
            )
        )
    if not motion.stands:
        notices.append(
            Notice(
                "camera_sways",
                _(
                    "The camera sways, by {sway} pixels on average; that was taken out. A phone "
                    "that stands still measures a little better."
                ).format(sway=format_number(motion.sway_px))
                if motion.sway_px >= 1.5
                else _("The camera sways a little; that was taken out."),
            )
        )
    return tuple(notices)


def _left_out(motion: CameraMotion) -> list[Pair]:
    """When the camera stands elsewhere, or is being moved, from and to in seconds."""
    ends = [motion.parts[0].start_s, *(part.end_s for part in motion.used)]
    starts = [*(part.start_s for part in motion.used), motion.parts[-1].end_s]
    return [span for span in zip(ends, starts, strict=True) if span[1] > span[0]]


def _list_times(spans: Sequence[Pair]) -> str:
    """Spans of time in words, seconds."""
    times = [
        _("{start} to {end} s").format(start=format_number(start_s, 1), end=format_number(end_s, 1))
        for start_s, end_s in spans
    ]
    return join_words(times)
