"""Angles and changes of shares as a coach says them."""

from stance.assessment.angle_words import turned_words
from stance.runtime.language import gettext as _
from stance.types import N_, Verdict

TREND_WORDS: dict[Verdict, str] = {
    "up": N_("more often later"),
    "down": N_("less often later"),
    "steady": N_("no change of note"),
    "too_few": N_("too few to tell"),
}
"""How a share went over the dates."""


def angle_range_words(low_deg: float, high_deg: float) -> str:
    """From one angle to another: "17 to 29° back", "5° back to 3° in front"."""
    low, high = round(low_deg), round(high_deg)
    if low == high:
        return turned_words(low)
    if low < 0 < high or 0 in (low, high):
        return _("{low} to {high}").format(low=turned_words(low), high=turned_words(high))
    words = _("{least} to {most}° back") if high < 0 else _("{least} to {most}° in front")
    least, most = sorted((abs(low), abs(high)))
    return words.format(least=least, most=most)


def turn_words(low_deg: float, high_deg: float) -> str:
    """How far the racket side came: "20 to 45° further forward", "5° back to 8° forward"."""
    low, high = round(low_deg), round(high_deg)
    if low < 0 < high:
        return _("{back}° further back to {forward}° further forward").format(
            back=-low, forward=high
        )
    least, most = sorted((abs(low), abs(high)))
    if least == most:
        words = _("{size}° further back") if low < 0 else _("{size}° further forward")
        return words.format(size=most)
    is_back = low_deg + high_deg < 0
    words = (
        _("{least} to {most}° further back") if is_back else _("{least} to {most}° further forward")
    )
    return words.format(least=least, most=most)


def points_words(low: float, high: float) -> str:
    """How large a change of a share is, whichever way: "20 to 76 percentage points".

    Parameters
    ----------
    low, high
        ends of the range of after - before, -1 to 1
    """
    least, most = sorted((round(abs(100 * low)), round(abs(100 * high))))
    if least == most:
        return _("{points} percentage points").format(points=most)
    return _("{least} to {most} percentage points").format(least=least, most=most)


def change_words(low: float, high: float) -> str:
    """A range of a share's change: "20 to 76 percentage points less", "5 less to 8 more".

    Parameters
    ----------
    low, high
        ends of the range of after - before, -1 to 1
    """
    first, second = round(100 * low), round(100 * high)
    if first < 0 < second:
        return _("{less} percentage points less to {more} more").format(less=-first, more=second)
    words = _("{points} less") if low + high < 0 else _("{points} more")
    return words.format(points=points_words(low, high))
