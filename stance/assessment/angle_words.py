"""Angles against the net line in a coach's words."""

import math


def turned_words(angle_deg: float) -> str:
    """An angle by the racket side: "16° back", "12° in front"; "level with the net" for none.

    Parameters
    ----------
    angle_deg
        degrees, negative where the racket side is back; NaN is "not known"
    """
    if not math.isfinite(angle_deg):
        return "not known"
    size = round(abs(angle_deg))
    if size == 0:
        return "level with the net"
    return f"{size}° {'back' if angle_deg < 0 else 'in front'}"
