"""Files that are read: regular ones only, of a sane size, with a sentence for all else.

A pipe would keep the tool waiting for good, and a device such as /dev/zero never ends.
"""

import hashlib
import os
import stat
from pathlib import Path
from typing import BinaryIO

from stance.errors import InputError
from stance.runtime.language import gettext as _

# The largest text file that is read whole: a result of three hours takes a tenth of it.
MOST_TEXT_BYTES = 64 << 20

_BLOCK_BYTES = 1 << 20


def open_regular(path: str | Path, what: str | None = None) -> BinaryIO:
    """Open a file to read bytes.

    Parameters
    ----------
    path
        the file
    what
        it is, in the coach's words, such as "court file"; None for a file

    Raises
    ------
    InputError
        There is no such file, it is a folder, pipe or device, or it can't be read.
    """
    what = what or _("file")
    try:
        mode = os.stat(path).st_mode
        if stat.S_ISDIR(mode):
            raise InputError(
                _("{path} is a folder; give the {what} itself.").format(path=path, what=what)
            )
        if not stat.S_ISREG(mode):
            raise InputError(
                _(
                    "{path} is a pipe or a device, not a {what}; give a file that is on a disk."
                ).format(path=path, what=what)
            )
        return open(path, "rb")
    except FileNotFoundError:
        raise InputError(
            _("There is no {what} {path}; check its name and folder.").format(what=what, path=path)
        ) from None
    except PermissionError:
        raise InputError(
            _(
                "The {what} {path} can't be read: permission is missing. Change the file's "
                "permissions or copy it to a folder of your own."
            ).format(what=what, path=path)
        ) from None
    except (OSError, ValueError) as problem:
        raise _cannot_read(path, what, problem) from None


def read_regular(path: str | Path, what: str = "file", most_bytes: int = MOST_TEXT_BYTES) -> bytes:
    """Read a whole file; parameters and errors as for `open_regular`.

    A file of more than `most_bytes` is refused before it is read.
    """
    with open_regular(path, what) as file:
        try:
            content = file.read(most_bytes + 1)
        except OSError as problem:
            raise _cannot_read(path, what, problem) from None
    if len(content) > most_bytes:
        raise InputError(
            _("{path} is too large for a {what}: more than {most} MB. Give another file.").format(
                path=path, what=what, most=most_bytes >> 20
            )
        )
    return content


def is_regular(path: str | Path) -> bool:
    """Whether there is a regular file; a name that none can have is none."""
    try:
        return stat.S_ISREG(os.stat(path).st_mode)
    except (OSError, ValueError):
        return False


def hash_file(path: str | Path) -> str:
    """SHA-256 of a file on this machine, 64 hexadecimal digits; errors as for `open_regular`."""
    digest = hashlib.sha256()
    with open_regular(path) as file:
        try:
            while block := file.read(_BLOCK_BYTES):
                digest.update(block)
        except OSError as problem:
            raise _cannot_read(path, "file", problem) from None
    return digest.hexdigest()


def _cannot_read(path: str | Path, what: str, problem: Exception) -> InputError:
    """The sentence for a file that the system does not give out."""
    reason = getattr(problem, "strerror", None) or str(problem)
    return InputError(
        _("The {what} {path} can't be read: {reason}. Give another file.").format(
            what=what, path=path, reason=reason
        )
    )
