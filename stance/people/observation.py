"""Observations: uses of a pose model on a square of a frame, each with an id."""

import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field
from typing import NamedTuple, TypeVar

from stance.people.appearance import body_mask, middle_colour
from stance.people.half_court import MOST_PLAYERS
from stance.people.landmarker import Landmarker
from stance.people.landmarks import Box, Pose
from stance.people.settings import SETTINGS
from stance.runtime.model_files import Model
from stance.types import Half, ImageArray
from stance.video.frame import Frame

Item = TypeVar("Item")

Done = TypeVar("Done")

# A square that shows less of the picture than so many pixels is not observed.
_LEAST_PIXELS = 8


class ObservationId(NamedTuple):
    """Which observation of a run: its landmarker, the crop's number there, the person's in it."""

    landmarker: str
    crop: int
    person: int


@dataclass(frozen=True)
class Observation:
    """The pose of one person, seen in one crop; the same as another if the id is.

    A player at rest keeps the observation in later frames.
    """

    id: ObservationId
    pose: Pose = field(compare=False)


@dataclass(frozen=True)
class FrameCut:
    """A part of a frame.

    Attributes
    ----------
    image
        (height, width, 3) RGB
    left, top
        where it lies in the picture, pixels
    """

    image: ImageArray
    left: int
    top: int


class Observer:
    """A landmarker, and the number of crops it has seen.

    Parameters
    ----------
    name
        of the landmarker, unique in a run
    landmarker
        the pose model that is asked
    """

    def __init__(self, name: str, landmarker: Landmarker) -> None:
        self.landmarker = landmarker
        self._name = name
        self._crops = 0
        # Both halves search with one landmarker.
        self._in_use = threading.Lock()

    def observe(
        self,
        frame: Frame,
        box: Box,
        others: Sequence[Pose] = (),
        in_front: Pose | None = None,
    ) -> list[Observation]:
        """Find people in a square of a frame, past others; only that part of it is converted.

        Of two people one behind the other the pose model sees the one in front only. Once they are
        painted over in the square's middle colour, it sees who is behind.

        Parameters
        ----------
        frame
            the picture, with its time
        box
            square of the picture, pixels
        others
            who is painted over
        in_front
            pose of somebody who stands in front of the others: there nothing is painted

        Returns
        -------
        One observation for each person found, poses in pixels of the whole picture
        """
        cut = cut_out(frame, box)
        if cut is None:
            return []
        image, left, top = cut.image, cut.left, cut.top
        covered = body_mask(image.shape[:2], [pose.moved(-left, -top).pixels for pose in others])
        if in_front is not None:
            covered &= ~body_mask(
                image.shape[:2],
                [in_front.moved(-left, -top).pixels],
                SETTINGS.appearance.clothed_limb_heights,
            )
        if covered.any() and not covered.all():
            image = image.copy()
            image[covered] = middle_colour(image, ~covered)
        with self._in_use:
            found = self.landmarker.detect_all(image, Box(box.x - left, box.y - top, box.side))
            self._crops += 1
            crop = self._crops
        return [
            Observation(ObservationId(self._name, crop, person), pose.moved(left, top))
            for person, pose in enumerate(found)
        ]


class PoseModels:
    """The pose models of one run: one to search with, and one for each player to follow.

    Parameters
    ----------
    model
        "lite", "full" or "heavy"
    """

    def __init__(self, model: Model) -> None:
        self._model: Model = model
        self._finder: Observer | None = None
        self._steady: dict[tuple[str, int], Observer] = {}
        # Whoever needs the one does not wait for the other.
        self._loading_finder, self._loading_steady = threading.Lock(), threading.Lock()

    def load(self, half: Half) -> None:
        """Load the models that are needed first: to search, and to follow who is found."""
        _ = self.finder, self.steady(half, 0)

    @property
    def finder(self) -> Observer:
        """Finds several people in a crop taken by itself."""
        with self._loading_finder:
            if self._finder is None:
                self._finder = Observer("finder", Landmarker(self._model, people=MOST_PLAYERS + 1))
            return self._finder

    def steady(self, half: Half, number: int) -> Observer:
        """Follows one player of a half; a half has as many as it may have players."""
        with self._loading_steady:
            if (half, number) not in self._steady:
                self._steady[half, number] = Observer(
                    f"{half} {number}", Landmarker(self._model, steady=True)
                )
            return self._steady[half, number]

    def close(self) -> None:
        """Close them all."""
        for observer in (self._finder, *self._steady.values()):
            if observer is not None:
                observer.landmarker.__exit__(None, None, None)


def cut_out(frame: Frame, box: Box, factor: float = 1.0) -> FrameCut | None:
    """Cut a square, `factor` times as large, out of a frame, with a few pixels around it.

    Parameters
    ----------
    frame
        the picture, with its time
    box
        square of the picture, pixels
    factor
        float

    Returns
    -------
    What of the square lies in the picture, None where that is hardly anything
    """
    width, height = frame.size
    larger = box.widened(factor)
    left, top = max(int(larger.x) - 3, 0), max(int(larger.y) - 3, 0)
    right = min(int(larger.x + larger.side) + 4, width)
    bottom = min(int(larger.y + larger.side) + 4, height)
    if right - left < _LEAST_PIXELS or bottom - top < _LEAST_PIXELS:
        return None
    return FrameCut(frame.crop(left, top, right, bottom), left, top)


def map_concurrently(
    workers: Executor, work: Callable[[Item], Done], items: Sequence[Item]
) -> list[Done]:
    """Do some work on each item, at the same time where there are several.

    To hand work over to a thread and back takes up to milliseconds while others wait for Python.

    Parameters
    ----------
    workers
        threads that do the work
    work
        done once with each item
    items
        what to work on

    Returns
    -------
    What the work returned, in the order of the items
    """
    if len(items) < 2:
        return [work(item) for item in items]
    return list(workers.map(work, items))
