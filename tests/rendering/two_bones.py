"""A chain of two bones, such as a leg or an arm."""

import numpy as np

from tests.rendering.arrays import FloatArray
from tests.rendering.rotations import (
    unit,
)


def middle_joint(
    start: FloatArray, end: FloatArray, first: float, second: float, pole: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Knee or elbow (3,) of a two-bone chain bent towards `pole`, and its hinge axis (3,)."""
    line = end - start
    distance = float(np.clip(np.linalg.norm(line), abs(first - second) + 1e-6, first + second))
    along = unit(line)
    bend = unit(pole - (pole @ along) * along)
    foot = (first**2 - second**2 + distance**2) / (2.0 * distance)
    height = np.sqrt(max(first**2 - foot**2, 0.0))
    return start + foot * along + height * bend, np.cross(along, bend)
