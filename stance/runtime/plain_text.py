"""Text from outside, such as names, as it can be shown: nothing in it steers a terminal."""

import re
import shlex
import sys
import unicodedata

# The longest name of a player or session, in letters.
MOST_LETTERS = 100

# Scheme; user and password; host and path; query and fragment, in which a signature stands.
_ADDRESS = re.compile(r"([A-Za-z][\w+.-]*://)(?:[^\s/?#'\"]*@)?([^\s?#'\"]*)(?:[?#][^\s'\"]*)?")

# Control characters, halves of surrogate pairs, and separators of lines.
_UNSEEN = {"Cc", "Cs", "Zl", "Zp"}

# Characters that turn the direction of all that follows, and the byte order mark.
_TURNING = {*map(chr, (*range(0x202A, 0x202F), *range(0x2066, 0x206A))), "\ufeff"}

# Python puts a byte of a file's name that is no UTF-8 here (PEP 383).
_FIRST_BYTE, _LAST_BYTE, _BYTES_AT = 0xDC80, 0xDCFF, 0xDC00


def printable(text: str) -> str:
    r"""The text with a written form, such as \x1b, in place of each character that steers."""
    return text if text.isprintable() else "".join(map(_show, text))


def printable_lines(text: str) -> str:
    """Several lines made `printable`, each by itself."""
    return "\n".join(map(printable, text.split("\n")))


def hide_secrets(text: str) -> str:
    """The text with passwords and signatures cut out of the web addresses in it."""
    return _ADDRESS.sub(r"\1\2", text) if "://" in text else text


def clean_name(text: str) -> str:
    """A name in one spelling: letters composed (NFC), one space between words, `printable`."""
    return printable(" ".join(unicodedata.normalize("NFC", text).split()))


def _show(character: str) -> str:
    code = ord(character)
    if _FIRST_BYTE <= code <= _LAST_BYTE:
        return f"\\x{code - _BYTES_AT:02x}"
    if unicodedata.category(character) in _UNSEEN or character in _TURNING:
        return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}"
    return character


def quote_words(*words: str) -> str:
    """Words as they are typed behind each other in a terminal, quoted where they must be."""
    if sys.platform == "win32":
        from subprocess import list2cmdline

        return list2cmdline(words)
    return shlex.join(words)
