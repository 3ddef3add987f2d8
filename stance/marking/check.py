"""Draws a marked or found court over the clip's picture, to see whether it fits."""

from pathlib import Path

import cv2
import numpy as np

from stance.court.calibration import calibrate
from stance.court.court_file import read_court_file
from stance.court.visible_court import least_direction_error_deg, trace_court
from stance.errors import InputError
from stance.reports.pictures import court_picture
from stance.results.files import write_bytes
from stance.runtime.language import format_number
from stance.runtime.language import gettext as _
from stance.runtime.plain_text import quote_words
from stance.video.probe import describe_clip
from stance.watching.court_place import find_court_place


def draw_court_check(clip: str | Path, court_file: Path | None, picture: Path) -> str:
    """Draw a court over the clip's background into a PNG.

    Parameters
    ----------
    clip
        path of the video.
    court_file
        marked points; without it the court is found in the picture.
    picture
        PNG to write.

    Returns
    -------
    How well the court fits, in a sentence.

    Raises
    ------
    InputError, OutputError
        If the clip or the court file can't be read, no court is found, or the picture can't be
        written.
    """
    size = describe_clip(clip).size
    marks = np.empty((0, 2))
    calibrated = None
    if court_file is not None:
        marked = read_court_file(court_file, size)
        calibrated, marks = calibrate(marked), marked.pixels
    place = find_court_place(clip, size)
    if calibrated is None:
        found = place.found
        if found.court is None:
            raise InputError(
                _("The court was not found. {reason} Or mark it with: stance court {clip}.").format(
                    reason=found.reason, clip=quote_words(str(clip))
                )
            )
        calibrated = found.court
        source = _("Found with a confidence of {percent} %, error {error} pixels")
    else:
        source = _("{number} marked points, error {error} pixels")
    error, confidence = calibrated.error_px or 0.0, place.found.confidence
    source = source.format(
        percent=format_number(100 * confidence), number=len(marks), error=format_number(error, 1)
    )
    turn = format_number(least_direction_error_deg(calibrated.camera), 1)
    caption = (
        source,
        _("adds {turn} degrees to the error of an angle").format(turn=turn),
    )
    court = trace_court(calibrated.camera)
    drawn = court_picture(place.background, court.lines, court.net, marks, caption)
    done, png = cv2.imencode(".png", cv2.cvtColor(drawn, cv2.COLOR_RGB2BGR))
    assert done
    write_bytes(picture, png.tobytes())
    return f"{caption[0]}; {caption[1]}."
