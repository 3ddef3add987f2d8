"""Words, numbers and dates as they are shown: in the reader's language, else in English.

The language is read from the variables LANGUAGE, LC_ALL, LC_MESSAGES and LANG, as gettext does.
Numbers and dates are those of the language that is shown, so English text never holds a decimal
comma. Files for programs (JSON, CSV) don't pass through here. How to write a string and how to add
a language: DEVELOPERS.md, "Words shown".
"""

import datetime
import functools
import gettext as catalogues
import itertools
import os
from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path

LOCALE_FOLDER = Path(__file__).parents[1] / "locale"
"""Holds the catalogue `stance.pot` and, for each language, `LC_MESSAGES/stance.po` and `.mo`."""

_ENGLISH = ("en", "C", "POSIX")


def gettext(text: str) -> str:
    """The text in the reader's language; modules import it as `_`."""
    # The entry of the empty text is the catalogue's header.
    return _catalogue().gettext(text) if text else text


def ngettext(one: str, several: str, number: int) -> str:
    """The same for a text that holds a number of things: the form which that number takes."""
    return _catalogue().ngettext(one, several, number)


def shown_language() -> str:
    """The language that is shown, as a page's `lang` has it: "en-GB", "de", "pt-BR"."""
    return _catalogue().info().get("language", "en-GB").replace("_", "-")


def format_number(value: float, digits: int = 0, signed: bool = False) -> str:
    """A number with so many digits after the decimal sign; a true minus, and no "−0".

    Parameters
    ----------
    value
        finite
    digits
        after the decimal sign
    signed
        whether a plus stands before what is above zero
    """
    text = f"{abs(value):.{digits}f}"
    sign = "" if not float(text) else "−" if value < 0 else "+" if signed else ""
    if not _is_english():
        from babel.numbers import format_decimal

        pattern = "0." + "0" * digits if digits else "0"
        text = format_decimal(Decimal(text), pattern, shown_language().replace("-", "_"))
    return sign + text


def format_day(day: str) -> str:
    """A day as it is written in the language; what is no year-month-day stays as it is."""
    if _is_english():
        return day
    from babel.dates import format_date

    try:
        date = datetime.date.fromisoformat(day)
    except ValueError:
        return day
    return format_date(date, "medium", shown_language().replace("-", "_"))


def join_words(words: Sequence[str]) -> str:
    """Words as a list in a sentence: "a, b and c"."""
    if len(words) < 2:
        return "".join(words)
    return gettext("{several} and {last}").format(several=", ".join(words[:-1]), last=words[-1])


@functools.cache
def _catalogue() -> catalogues.NullTranslations:
    """The first wanted language that there is; the texts themselves where English comes first."""
    names = ("LANGUAGE", "LC_ALL", "LC_MESSAGES", "LANG")
    wanted = next(filter(None, map(os.environ.get, names)), "").split(":")
    foreign = itertools.takewhile(
        lambda name: name.split("_")[0].split(".")[0] not in _ENGLISH, wanted
    )
    return catalogues.translation("stance", LOCALE_FOLDER, list(foreign), fallback=True)


def _is_english() -> bool:
    return shown_language().startswith("en")
