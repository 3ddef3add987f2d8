"""Places in which something seems to move and nobody was seen.

They are not searched again while they look the same: 38 observations for a partner in a minute with
one defender, for 189 (docs/performance.md).
"""

from collections import deque
from collections.abc import Iterable

from stance.people.landmarks import Box
from stance.people.settings import SETTINGS
from stance.people.stillness import Thumbnail, body_thumbnail, same_thumbnail
from stance.video.frame import Frame


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
