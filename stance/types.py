"""Types that all steps share: arrays, and the words that results use."""

from typing import Literal

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
ImageArray = NDArray[np.uint8]
IntArray = NDArray[np.int_]
BoolArray = NDArray[np.bool_]

Hand = Literal["right", "left"]
HANDS: tuple[Hand, ...] = ("right", "left")

CLASSES = ("square", "slightly_racket_leg_back", "over_side_on")
NOT_ASSESSED = "not_assessed"
CLASS_NAMES = {
    "square": "square",
    "slightly_racket_leg_back": "slightly racket-leg-back",
    "over_side_on": "over-side-on",
    NOT_ASSESSED: "not assessed",
}
