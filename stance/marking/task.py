"""What is marked: the clip's background picture, and marks to begin with."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from stance.court.court_file import MarkedCourt, court_file_beside, read_court_file
from stance.court.visible_court import mark_crossings
from stance.errors import InputError
from stance.runtime.language import gettext as _
from stance.runtime.plain_text import quote_words
from stance.video.probe import describe_clip
from stance.watching.court_place import find_court_place


@dataclass(frozen=True, eq=False)
class MarkingTask:
    """What is marked, and where the marks go.

    Attributes
    ----------
    clip
        path of the video.
    background
        (height, width, 3) uint8 RGB, upright.
    court_file
        file to save to.
    start
        marks to begin with, or None.
    is_found
        whether these are a court's that was found in the picture, and not an earlier court file's.
    """

    clip: Path
    background: NDArray[np.uint8]
    court_file: Path
    start: MarkedCourt | None = None
    is_found: bool = False

    @property
    def image_size(self) -> tuple[int, int]:
        """(width, height) of the picture, pixels."""
        return self.background.shape[1], self.background.shape[0]

    @property
    def next_command(self) -> str:
        """The command that measures the clip on the court that was marked."""
        words = ["stance", "analyse", str(self.clip)]
        if self.court_file.absolute() != court_file_beside(self.clip).absolute():
            words += ["--court", str(self.court_file)]
        return quote_words(*words)


def prepare_marking(clip: str | Path, court_file: Path) -> MarkingTask:
    """Collect what is needed to mark a clip's court: its background, and marks to begin with.

    Parameters
    ----------
    clip
        path of the video.
    court_file
        file that the marks will be saved to, and begin with where it is there already.

    Raises
    ------
    InputError
        If the clip can't be read or its camera keeps moving; if there is a file of the court
        file's name that is no court file of this clip, since it would be overwritten.
    """
    size = describe_clip(clip).size
    start = None
    if court_file.exists():
        try:
            start = read_court_file(court_file, size)
        except InputError as error:
            raise InputError(
                _(
                    "{error} It would be overwritten; move it away, or name another file with "
                    "--out."
                ).format(error=error)
            ) from error
    place = find_court_place(clip, size)
    background, found = place.background, place.found.court
    if start is not None:
        return MarkingTask(Path(clip), background, court_file, start)
    if found is None:
        return MarkingTask(Path(clip), background, court_file)
    start = mark_crossings(found.camera)
    return MarkingTask(Path(clip), background, court_file, start, is_found=True)
