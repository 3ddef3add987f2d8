"""Names of the pictures that show a player in a clip."""

from dataclasses import dataclass
from typing import Literal

Moment = Literal["key", "landing", "contact", "stroke"]


@dataclass(frozen=True)
class PictureKey:
    """Which picture of a player is meant.

    Attributes
    ----------
    player
        letter
    number
        from 1, of the ready position; for the moment "stroke", of the stroke faced
    moment
        the ready position's key frame, its landing or the contact of its stroke; "stroke": the
        contact of a stroke met in no ready position
    """

    player: str
    number: int
    moment: Moment = "key"
