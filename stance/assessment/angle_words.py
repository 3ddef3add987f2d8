"""Angles against the net line, and which side is in front, in a coach's words."""

import math

from stance.runtime.language import gettext as _


def turned_words(angle_deg: float) -> str:
    """An angle by the racket side: "16° back", "12° in front"; "0°" where it is none.

    Parameters
    ----------
    angle_deg
        degrees, negative where the racket side is back; NaN is "not known"
    """
    if not math.isfinite(angle_deg):
        return _("not known")
    size = round(abs(angle_deg))
    if size == 0:
        return "0°"
    words = _("{size}° back") if angle_deg < 0 else _("{size}° in front")
    return words.format(size=size)


def side_words(front: int, back: int) -> str:
    """Which side was in front how often where over-side-on; empty where never over-side-on."""
    if not back:
        return _("racket side in front each time") if front else ""
    if not front:
        return _("racket side back each time")
    return _("racket side in front at {front}, back at {back}").format(front=front, back=back)
