"""The wording of strokes faced: the contact, how it is known, and when the feet were down."""

import math

from stance.results.model import KnownBy, Met, ReadyPosition, StrokeFaced
from stance.runtime.language import format_number, join_words
from stance.runtime.language import gettext as _
from stance.types import N_

MET_WORDS: dict[Met, str] = {
    "set": N_("met set"),
    "on_the_move": N_("met on the move"),
    "not_seen": N_("not seen well enough"),
}

_KNOWN_WORDS: dict[KnownBy, str] = {
    "seen": N_("seen in the attacker's swing"),
    "heard": N_("heard"),
    "moved": N_("told from the defender's own movement"),
}

_WAITED_S = 0.5
"""Who was down so long before the contact had been waiting, seconds."""


def contact_words(stroke: StrokeFaced) -> str:
    """When the contact was, how exactly that is known, and how: one sentence."""
    # A time is not parted from its unit at the end of a line.
    when = f"{format_number(stroke.time_s, 2)}\u00a0s"
    if math.isfinite(stroke.time_se_s):
        when += f" ±\u00a0{format_number(stroke.time_se_s, 2)}\u00a0s"
    if not stroke.known_by:
        return _("Contact at {when}.").format(when=when)
    ways = join_words([_(_KNOWN_WORDS[way]) for way in stroke.known_by])
    return _("Contact at {when}, {known}.").format(when=when, known=ways)


def feet_words(stroke: StrokeFaced, position: ReadyPosition) -> str:
    """When both feet were down and when the first one left, against the contact."""
    down = position.start_s - stroke.time_s
    left = from_contact(position.end_s - stroke.time_s)
    if down < -_WAITED_S:
        return _(
            "Waited, set, from {waited} s before the contact; the first foot left {left}."
        ).format(waited=format_number(-down, 1), left=left)
    return _("Both feet down {down}; the first foot left {left}.").format(
        down=from_contact(down), left=left
    )


def from_contact(after_s: float) -> str:
    """A time against the contact: "0.12 s after the contact"; "at the contact" for none."""
    size = f"{abs(after_s):.2f}"
    if float(size) == 0:
        return _("at the contact")
    words = _("{time} s after the contact") if after_s > 0 else _("{time} s before the contact")
    return words.format(time=format_number(abs(after_s), 2))


def offset_words(after_s: float) -> str:
    """The same in the fewest words, for under a picture: "+0.12 s", with a true minus."""
    return f"{format_number(after_s, 2, signed=True)} s"
