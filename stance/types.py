"""Types that all steps share: arrays, and the words that results use."""

from typing import Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
ImageArray = NDArray[np.uint8]
IntArray = NDArray[np.int_]
BoolArray = NDArray[np.bool_]


Text = TypeVar("Text", bound=str)


def N_(text: Text) -> Text:
    """Mark words of results for the catalogue; they are English here, translated where shown."""
    return text


Hand = Literal["right", "left"]
HANDS: tuple[Hand, ...] = (N_("right"), N_("left"))

Half = Literal["near", "far"]

CourtSource = Literal["marked", "found", "assumed"]

FilmedFrom = Literal[
    "behind", "rear-left", "rear-right", "left", "right", "front-left", "front-right", "front"
]
"""Where the phone stood as somebody says, seen from a player who faces the net."""
FILMED_FROM: tuple[FilmedFrom, ...] = (
    "behind",
    "rear-left",
    "rear-right",
    "left",
    "right",
    "front-left",
    "front-right",
    "front",
)
FILMED_FROM_WORDS: dict[FilmedFrom, str] = {
    "behind": N_("behind the player"),
    "rear-left": N_("in the corner behind the player on the left"),
    "rear-right": N_("in the corner behind the player on the right"),
    "left": N_("on the player's left"),
    "right": N_("on the player's right"),
    "front-left": N_("in front of the player, in the corner on the left"),
    "front-right": N_("in front of the player, in the corner on the right"),
    "front": N_("in front of the player"),
}

View = Literal["behind", "corner", "side", "front", "unknown"]
"""Where the phone stood, seen from the player."""
VIEWS: tuple[View, ...] = ("behind", "corner", "side", "front")
UNKNOWN_VIEW: View = "unknown"

StanceClass = Literal["square", "slightly_racket_leg_back", "over_side_on", "not_assessed"]
CLASSES: tuple[StanceClass, ...] = ("square", "slightly_racket_leg_back", "over_side_on")
NOT_ASSESSED: StanceClass = "not_assessed"
CLASS_NAMES: dict[StanceClass, str] = {
    "square": N_("square"),
    "slightly_racket_leg_back": N_("slightly racket-leg-back"),
    "over_side_on": N_("over-side-on"),
    NOT_ASSESSED: N_("not assessed"),
}

RACKET_FOOT_LEADING = "racket foot leading"
"""Remark on a ready position whose racket foot is nearer the net: it fits no class well."""

NET_UNKNOWN = N_("direction of the net not known")
"""Remark on a ready position whose angles to the net are not known, as no court is."""

ANGLES_UNSURE = N_("angles too unsure to mean anything")
"""Remark on a ready position of which an angle's standard error is too large."""

AT_REST = N_("at rest for long, so in no rally")
"""Remark on what looks like a ready position of somebody who rests, sits or shows a stance."""

Counted = Literal[
    "square", "slightly_racket_leg_back", "over_side_on", "not_assessed", "racket_foot_leading"
]
"""What ready positions are counted by: their class, or the remark."""
LEADING: Counted = "racket_foot_leading"
COUNTED_NAMES: dict[Counted, str] = {
    **{what: CLASS_NAMES[what] for what in CLASSES},
    LEADING: N_("racket foot in front"),
}

Verdict = Literal["up", "down", "steady", "too_few"]
"""What a comparison says of a share."""

Flag = Literal["habit", "watch", "no_sign", "too_few"]
"""What a screening says of a player, the surest habit first."""
FLAGS: tuple[Flag, ...] = ("habit", "watch", "no_sign", "too_few")
