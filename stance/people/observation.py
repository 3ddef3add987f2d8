"""Looks at parts of a frame for people."""

import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from typing import TypeVar

from stance.people.appearance import CLOTHED, body_mask, middle_colour
from stance.people.landmarker import Landmarker
from stance.people.landmarks import Box, Pose
from stance.people.search_boxes import widened
from stance.people.settings import MOST_PLAYERS
from stance.runtime.model_files import Model
from stance.types import ImageArray
from stance.video.frame import Frame

Item = TypeVar("Item")

Done = TypeVar("Done")


class PoseModels:
    """The pose models of one run: one to search with, and one for each player to follow."""

    def __init__(self, model: Model) -> None:
        self._model: Model = model
        self._finder: Landmarker | None = None
        self._steady: dict[tuple[str, int], Landmarker] = {}
        # Whoever needs the one does not wait for the other.
        self._loading_finder, self._loading_steady = threading.Lock(), threading.Lock()

    def load(self, half: str) -> None:
        """Load the models that are needed first: to search, and to follow who is found."""
        _ = self.finder, self.steady(half, 0)

    @property
    def finder(self) -> Landmarker:
        """Finds several people in a crop looked at by itself."""
        with self._loading_finder:
            if self._finder is None:
                self._finder = Landmarker(self._model, people=MOST_PLAYERS + 1)
            return self._finder

    def steady(self, half: str, number: int) -> Landmarker:
        """Follows one player of a half; a half has as many as it may have players."""
        with self._loading_steady:
            if (half, number) not in self._steady:
                self._steady[half, number] = Landmarker(self._model, steady=True)
            return self._steady[half, number]

    def close(self) -> None:
        """Close them all."""
        for landmarker in (self._finder, *self._steady.values()):
            if landmarker is not None:
                landmarker.__exit__(None, None, None)


def cut_out(frame: Frame, box: Box, factor: float = 1.0) -> tuple[ImageArray, int, int] | None:
    """Cut a square, `factor` times as large, out of a frame; where it is in the picture."""
    width, height = frame.size
    larger = widened(box, factor)
    left, top = max(int(larger.x) - 3, 0), max(int(larger.y) - 3, 0)
    right = min(int(larger.x + larger.side) + 4, width)
    bottom = min(int(larger.y + larger.side) + 4, height)
    if right - left < 8 or bottom - top < 8:
        return None
    return frame.crop(left, top, right, bottom), left, top


def look_in(
    landmarker: Landmarker,
    frame: Frame,
    box: Box,
    others: Sequence[Pose] = (),
    sought: Pose | None = None,
) -> list[Pose]:
    """Look at a square of a frame, past others; only that part of it is converted.

    Of two people one behind the other the pose model sees the one in front only. Once they are
    painted over in the square's middle colour, it sees who is behind. Where somebody sought
    should be in front of the others nothing is painted.
    """
    cut = cut_out(frame, box)
    if cut is None:
        return []
    image, left, top = cut
    covered = body_mask(image.shape[:2], [pose.moved(-left, -top).pixels for pose in others])
    if sought is not None:
        covered &= ~body_mask(image.shape[:2], [sought.moved(-left, -top).pixels], CLOTHED)
    if covered.any() and not covered.all():
        image = image.copy()
        image[covered] = middle_colour(image, ~covered)
    found = landmarker.detect_all(image, Box(box.x - left, box.y - top, box.side))
    return [pose.moved(left, top) for pose in found]


def map_concurrently(
    workers: Executor, work: Callable[[Item], Done], items: Sequence[Item]
) -> list[Done]:
    """Do some work on each item, at the same time where there are several.

    To hand work over to a thread and back takes up to milliseconds while others wait for Python.
    """
    if len(items) < 2:
        return [work(item) for item in items]
    return list(workers.map(work, items))
