"""Dates as people and spreadsheets write them."""

import datetime
import re
from collections.abc import Iterable
from typing import Literal

from stance.runtime.language import gettext as _

First = Literal["day", "month"]
"""What comes first in dates such as 3/14/2026."""

# A time of day after the date, as spreadsheets add it, tells nothing here.
_TIME = r"(?:[ T]\d{1,2}:\d{2}(?::\d{2})?)?"
_YEAR_FIRST = re.compile(rf"(\d{{4}})([-./])(\d{{1,2}})\2(\d{{1,2}}){_TIME}", re.ASCII)
_YEAR_LAST = re.compile(rf"(\d{{1,2}})([-./]) ?(\d{{1,2}})\2 ?(\d{{4}}|\d{{2}}){_TIME}", re.ASCII)


def read_date(text: str, first: First | None = None) -> datetime.date:
    """A date written as 2026-03-14, 14.03.2026, 14/03/2026 or 3/14/2026.

    With points the day comes first. With slashes or hyphens day and month are told by a number
    above 12; where none is, by `first`. A year of two digits is of this century.

    Parameters
    ----------
    text
        as written, without spaces around it
    first
        what comes first in the other dates written alike; None where they do not tell

    Raises
    ------
    ValueError
        With what is wrong and what to write, a half sentence.
    """
    found = _YEAR_FIRST.fullmatch(text)
    if found is not None:
        return _make_date(text, int(found[1]), int(found[3]), int(found[4]))
    found = _YEAR_LAST.fullmatch(text)
    if found is None:
        raise _not_a_date(text)
    numbers = int(found[1]), int(found[3])
    year = int(found[4]) + (2000 if len(found[4]) == 2 else 0)
    order = "day" if found[2] == "." else _tell_first(numbers) or first
    if order is None and numbers[0] != numbers[1]:
        one, other = (_make_date(text, year, *pair) for pair in (numbers, numbers[::-1]))
        raise ValueError(
            _("the date {text!r} may be {one} or {other}; write the one that is meant").format(
                text=text, one=one, other=other
            )
        )
    day, month = numbers if order == "day" else numbers[::-1]
    return _make_date(text, year, month, day)


def find_first(texts: Iterable[str]) -> First | None:
    """What comes first in the dates of one table that are written with slashes or hyphens.

    Parameters
    ----------
    texts
        cells of a column

    Returns
    -------
    str or None
        None where no number above 12 tells, or two tell the contrary.
    """
    found = [match for text in texts if (match := _YEAR_LAST.fullmatch(text)) and match[2] != "."]
    told = {_tell_first((int(match[1]), int(match[3]))) for match in found} - {None}
    return told.pop() if len(told) == 1 else None


def _tell_first(numbers: tuple[int, int]) -> First | None:
    """Which of two numbers is the day, where one is no month."""
    if numbers[0] > 12:
        return "day"
    return "month" if numbers[1] > 12 else None


def _make_date(text: str, year: int, month: int, day: int) -> datetime.date:
    try:
        return datetime.date(year, month, day)
    except ValueError:
        raise _not_a_date(text) from None


def _not_a_date(text: str) -> ValueError:
    return ValueError(
        _("the date is {text!r}; write year-month-day, such as 2026-03-14").format(text=text)
    )
