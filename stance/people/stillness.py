"""Whether a square of the picture still looks the same, told from a small grey picture of it.

Places in which something seems to move and nobody was seen are not searched again while they look
the same: 38 observations for a partner in a minute with one defender, for 189
(docs/performance.md).
"""

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from stance.people.landmarks import Box
from stance.people.observation import ObservationId
from stance.people.settings import SETTINGS
from stance.video.frame import Frame

Thumbnail = npt.NDArray[np.float32]


@dataclass(frozen=True)
class ReferenceView:
    """What the square around a pose looked like.

    Attributes
    ----------
    observation_id
        of the pose
    box
        the square around the pose
    thumbnail
        as `body_thumbnail` returns it
    centred
        whether the pose model looked where the person was, and not beside them
    """

    observation_id: ObservationId
    box: Box
    thumbnail: Thumbnail
    centred: bool = True


def body_thumbnail(frame: Frame, box: Box) -> Thumbnail | None:
    """Return a square of a frame small, grey and smoothed.

    Parameters
    ----------
    frame
        the picture, with its time
    box
        square of the picture, pixels

    Returns
    -------
    (side, side) grey levels, of a side that depends on the square only; None where the square
    leaves the picture
    """
    settings = SETTINGS.stillness
    width, height = frame.size
    left, top = int(box.x), int(box.y)
    right, bottom = int(box.x + box.side), int(box.y + box.side)
    if left < 0 or top < 0 or right > width or bottom > height:
        return None
    side, factor = settings.thumbnail_px, round(box.side / settings.thumbnail_px)
    if factor >= settings.whole_factor_from:
        side = min(int(box.side), right - left, bottom - top) // factor
        right, bottom = left + side * factor, top + side * factor
    grey = frame.crop_grey(left, top, right, bottom)
    small = cv2.resize(grey, (side, side), interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.blur(small.astype(np.float32), (3, 3)), np.float32)


def same_thumbnail(first: Thumbnail, second: Thumbnail) -> bool:
    """Whether two thumbnails of a square show the same."""
    return float(np.abs(first - second).max()) < SETTINGS.stillness.unchanged_levels


class EmptyPlaces:
    """The latest squares in which nobody was seen, each with what it looked like then."""

    def __init__(self) -> None:
        self._places: deque[tuple[Box, Thumbnail]] = deque(maxlen=SETTINGS.search.most_empty)

    def add(self, frame: Frame, boxes: Iterable[Box]) -> None:
        """Remember squares in which nobody was seen in a frame."""
        for box in boxes:
            thumbnail = body_thumbnail(frame, box)
            if thumbnail is not None:
                self._places.append((box, thumbnail))

    def includes(self, frame: Frame, box: Box) -> bool:
        """Whether nobody was seen in about this square before, and it still looks the same."""
        least, greatest = SETTINGS.search.empty_size_ratios
        return any(
            box.is_near(other, SETTINGS.search.empty_sides)
            and least < box.side / other.side < greatest
            and (now := body_thumbnail(frame, other)) is not None
            and same_thumbnail(now, thumbnail)
            for other, thumbnail in self._places
        )
