"""Poses found in a frame that may be players, and places known to be empty."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from stance.people.landmarks import Box, Pose
from stance.types import FloatArray


@dataclass(frozen=True)
class Anchor:
    """What the square around a pose looked like, small and grey, when the pose was seen."""

    pose: Pose
    picture: npt.NDArray[np.float32]
    sure: bool = True


@dataclass(frozen=True)
class EmptyPlace:
    """A square in which nobody was seen, and what it looked like then, small and grey."""

    box: Box
    picture: npt.NDArray[np.float32]


@dataclass(frozen=True)
class Candidate:
    """Somebody seen in a frame: pose, place on the floor in metres, colours worn.

    `sure` is whether the pose model looked where the person is, and not beside.
    """

    pose: Pose
    place: FloatArray
    colours: FloatArray
    sure: bool = True
