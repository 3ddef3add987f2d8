"""Key pictures taken from the page of a report that was written earlier.

A picture stands in the page itself, as a data address. A key picture's address carries whose and
which ready position it shows, as a parameter of its type, which browsers do not mind:
`data:image/jpeg;picture=A-3;base64,...`. So pages over many clips can show it without poses or
video, blurred where the report's are, and a report that is deleted leaves no picture behind.
"""

import base64
import re
from pathlib import Path

from stance.assessment.picture_key import PictureKey
from stance.errors import InputError
from stance.runtime.regular_files import read_regular

_KEY_PICTURE = re.compile(
    r"data:image/jpeg;picture=([A-Z]+)-([0-9]{1,5});base64,[A-Za-z0-9+/]+={0,2}"
)


def picture_source(key: PictureKey | None, jpeg: bytes) -> str:
    """The address of a picture that stands in a page itself.

    Parameters
    ----------
    key
        what it shows; None for what is no player's
    jpeg
        content of the picture's file
    """
    which = f"picture={key.player}-{key.number};" if key and key.moment == "key" else ""
    return f"data:image/jpeg;{which}base64,{base64.b64encode(jpeg).decode('ascii')}"


def read_key_pictures(report: str | Path) -> dict[PictureKey, str]:
    """Addresses of the key pictures in a report, by player and number of the ready position.

    Parameters
    ----------
    report
        the page; where there is none, or it holds no such pictures, none are given
    """
    try:
        text = read_regular(report, "report").decode("utf-8", "replace")
    except InputError:
        return {}
    return {PictureKey(found[1], int(found[2])): found[0] for found in _KEY_PICTURE.finditer(text)}
