"""A file that leads a browser to the marking page, so that its secret address is no argument.

Other users of a machine can read the arguments of all processes, but not this file.
"""

import html
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from stance.errors import OutputError
from stance.results.temporary import open_private
from stance.runtime.language import gettext as _


@contextmanager
def redirect_file(address: str, folder: Path) -> Iterator[Path]:
    """A page that only its owner can read and that leads to an address; deleted in the end.

    Parameters
    ----------
    address
        of the page
    folder
        for the file; the court file's own, since a browser need not be allowed to read others

    Raises
    ------
    OutputError
        The file can't be written.
    """
    file = folder.absolute() / f"marking-page.{os.getpid()}.part.html"
    try:
        with open_private(file) as page:
            page.write(
                f'<!DOCTYPE html><meta charset="utf-8"><title>{_("Marking page")}</title>'
                f'<meta http-equiv="refresh" content="0; url={html.escape(address)}">\n'.encode()
            )
    except OSError as problem:
        raise OutputError(
            _(
                "The folder {folder} can't be written to: {reason}. Name another file with --out."
            ).format(folder=folder, reason=problem.strerror)
        ) from None
    try:
        yield file
    finally:
        with suppress(OSError):
            file.unlink()
