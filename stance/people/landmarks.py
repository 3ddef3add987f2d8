"""A pose: 33 body landmarks of one person, and the square around them."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from stance.types import FloatArray, Hand

LANDMARKS = 33

NOSE = 0

LEFT_EAR, RIGHT_EAR = 7, 8

LEFT_SHOULDER, RIGHT_SHOULDER = 11, 12

LEFT_ELBOW, RIGHT_ELBOW = 13, 14

LEFT_WRIST, RIGHT_WRIST = 15, 16

LEFT_PINKY, RIGHT_PINKY = 17, 18

LEFT_INDEX, RIGHT_INDEX = 19, 20

LEFT_HIP, RIGHT_HIP = 23, 24

LEFT_KNEE, RIGHT_KNEE = 25, 26

LEFT_ANKLE, RIGHT_ANKLE = 27, 28

LEFT_HEEL, RIGHT_HEEL = 29, 30

LEFT_TOE, RIGHT_TOE = 31, 32

FEET = (LEFT_HEEL, RIGHT_HEEL, LEFT_TOE, RIGHT_TOE)

TRUNK = [LEFT_SHOULDER, RIGHT_SHOULDER, LEFT_HIP, RIGHT_HIP]

HIPS = [LEFT_HIP, RIGHT_HIP]

# Landmark i of a mirrored person is landmark MIRRORED[i] of the person.
MIRRORED = np.array(
    [0, 4, 5, 6, 1, 2, 3, 8, 7, 10, 9] + [i + 1 if i % 2 else i - 1 for i in range(11, LANDMARKS)]
)

# A crop is this many times as high as what it is to show (measured: the heavy model found a far
# player on such crops in 48 of 48 frames).
CROP_FACTOR = 1.5


@dataclass(frozen=True)
class Pose:
    """One person's landmarks.

    Attributes
    ----------
    pixels
        (33, 2) pixels, upright picture, origin at the top left corner of the top left pixel
    visibility
        (33,) probability that the landmark is in view and not hidden
    world
        (33, 3) metres from the middle of the hips, in the frame of a camera that looks straight at
        the crop: x right, y down, z away
    """

    pixels: FloatArray
    visibility: FloatArray
    world: FloatArray

    @cached_property
    def box(self) -> "Box":
        """The square crop around the pose."""
        return box_around(self.pixels)

    def mirrored(self, width: float) -> "Pose":
        """Return the pose of the picture mirrored left to right, `width` pixels wide."""
        pixels = self.pixels[MIRRORED] * (-1.0, 1.0) + (width, 0.0)
        world = self.world[MIRRORED] * (-1.0, 1.0, 1.0)
        return Pose(pixels, self.visibility[MIRRORED], world)

    def moved(self, x: float, y: float) -> "Pose":
        """Return the pose in a picture whose top left corner lies at (-x, -y) of this one's."""
        return replace(self, pixels=self.pixels + (x, y))


@dataclass(frozen=True)
class Box:
    """A square in the picture: its top left corner and side, pixels."""

    x: float
    y: float
    side: float

    def is_near(self, other: "Box", sides: float) -> bool:
        """Whether the middles of two squares are nearer than a part of the larger one's side."""
        across = abs(self.x + self.side / 2 - other.x - other.side / 2)
        down = abs(self.y + self.side / 2 - other.y - other.side / 2)
        return max(across, down) < sides * max(self.side, other.side)

    def widened(self, factor: float) -> "Box":
        """Return the square around the same middle, `factor` times as large."""
        more = (factor - 1.0) * self.side
        return Box(self.x - more / 2, self.y - more / 2, self.side + more)


def box_around(pixels: FloatArray) -> Box:
    """Return the square crop around a person's points, `CROP_FACTOR` times as large.

    Parameters
    ----------
    pixels
        (points, 2) pixels

    Returns
    -------
    Box
    """
    low, high = pixels.min(axis=0), pixels.max(axis=0)
    side = CROP_FACTOR * float((high - low).max())
    x, y = (low + high) / 2.0 - side / 2.0
    return Box(float(x), float(y), side)


def side_indices(hand: Hand, left: int, right: int) -> tuple[int, int]:
    """Return the landmark numbers of a pair as (racket side, other side)."""
    return (right, left) if hand == "right" else (left, right)
