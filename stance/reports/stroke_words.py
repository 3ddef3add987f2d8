"""The wording of strokes faced: the contact, how it is known, and when the feet were down."""

import math
from dataclasses import dataclass
from typing import Literal

from stance.results.model import KnownBy, Met, PlayerResult, ReadyPosition, StrokeFaced

MET_WORDS: dict[Met, str] = {
    "set": "met set",
    "on_the_move": "met on the move",
    "not_seen": "not seen well enough",
}

_KNOWN_WORDS: dict[KnownBy, str] = {
    "seen": "seen in the attacker's swing",
    "heard": "heard",
    "moved": "told from the defender's own movement",
}

_CONTACT_SHOWN_S = 0.12
"""A contact is written on the overlay for so long before and after it, seconds: a single frame is
not seen."""

_WAITED_S = 0.5
"""Who was down so long before the contact had been waiting, seconds."""


@dataclass(frozen=True)
class Tag:
    """What is written beside a player on the overlay, and what it is about."""

    about: Literal["theirs", "own", "set"]
    text: str


def contact_words(stroke: StrokeFaced) -> str:
    """When the contact was, how exactly that is known, and how: one sentence."""
    # A time is not parted from its unit at the end of a line.
    when = f"Contact at {stroke.time_s:.2f}\u00a0s"
    if math.isfinite(stroke.time_se_s):
        when += f" ±\u00a0{stroke.time_se_s:.2f}\u00a0s"
    ways = [_KNOWN_WORDS[way] for way in stroke.known_by]
    return f"{when}, {' and '.join(ways)}." if ways else f"{when}."


def feet_words(stroke: StrokeFaced, position: ReadyPosition) -> str:
    """When both feet were down and when the first one left, against the contact."""
    down = position.start_s - stroke.time_s
    left = position.end_s - stroke.time_s
    if down < -_WAITED_S:
        first = f"Waited, set, from {-down:.1f} s before the contact"
    else:
        first = f"Both feet down {from_contact(down)}"
    return f"{first}; the first foot left {from_contact(left)}."


def from_contact(after_s: float) -> str:
    """A time against the contact: "0.12 s after the contact"; "at the contact" for none."""
    size = f"{abs(after_s):.2f}"
    if float(size) == 0:
        return "at the contact"
    return f"{size} s {'after' if after_s > 0 else 'before'} the contact"


def offset_words(after_s: float) -> str:
    """The same in the fewest words, for under a picture: "+0.12 s", with a true minus."""
    return f"{after_s + 0.0:+.2f} s".replace("-", "−")


def tags_at(time_s: float, player: PlayerResult, in_position: bool) -> list[Tag]:
    """What the overlay writes beside a player: contacts near in time, and that they are set.

    Parameters
    ----------
    time_s
        of the frame, seconds
    player
        with their strokes
    in_position
        whether the frame is part of a ready position
    """
    # The longest lasting stands lowest, so that it keeps its place.
    tags = [Tag("set", "set")] if in_position and player.strokes_faced else []
    for faced in player.strokes_faced:
        if abs(faced.time_s - time_s) <= _CONTACT_SHOWN_S:
            what = "their serve" if faced.serve else "their contact"
            moving = ", on the move" if faced.met == "on_the_move" else ""
            tags.append(Tag("theirs", f"{what}{moving}"))
    if any(abs(own.time_s - time_s) <= _CONTACT_SHOWN_S for own in player.own_strokes):
        tags.append(Tag("own", "own contact"))
    return tags
