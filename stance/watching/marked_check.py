"""A marked court is held against the lines of the very clip: files get mixed up, phones moved."""

from dataclasses import dataclass
from pathlib import Path

from stance.camera_motion.background import median_picture, read_some_pictures
from stance.court.calibration import CalibratedCourt, FoundCourt
from stance.court.detection.agreement import (
    MOST_TURNED_DEG,
    LineAgreement,
    measure_agreement,
)
from stance.court.detection.deciding import relate_courts
from stance.court.detection.turning import measure_turn
from stance.errors import InputError
from stance.runtime.language import gettext as _
from stance.watching.court_place import CourtPlace
from stance.watching.watched_clip import MarkedFit


@dataclass(frozen=True)
class KnownCourt:
    """The court of a clip: marked, or searched in its picture; fields as in `WatchedClip`."""

    marked: CalibratedCourt | None
    found: FoundCourt | None
    marked_fit: MarkedFit = "agrees"

    @property
    def court(self) -> CalibratedCourt | None:
        """The marked or the found court; None where neither is known."""
        return self.marked if self.found is None else self.found.court


def agrees_at_once(marked: CalibratedCourt, clip: str | Path, image_size: tuple[int, int]) -> bool:
    """Whether a marked court lies straight on the painted lines of a few pictures, quickly read.

    Where it does not, the camera may have moved or been cut: `check_marked` tells.

    Parameters
    ----------
    marked
        the marked court
    clip
        path of the video
    image_size
        (width, height) of its upright picture, pixels

    Raises
    ------
    InputError
        The clip can't be read.
    """
    pictures = read_some_pictures(clip, image_size)
    if not pictures:
        return False
    agreement = measure_agreement(marked.camera, median_picture(pictures))
    return agreement.agrees and agreement.is_straight


def check_marked(marked: CalibratedCourt, place: CourtPlace) -> KnownCourt:
    """Hold a marked court against the lines that the clip shows.

    Parameters
    ----------
    marked
        the marked court
    place
        of the camera, and the court found from there

    Returns
    -------
    The marked court; or the found one, where the marked one lies beside the lines, or turned
    against them, and the court is found for sure

    Raises
    ------
    InputError
        The marked court lies beside the lines, and none is found.
    """
    return decide(marked, place.found, measure_agreement(marked.camera, place.background))


def decide(marked: CalibratedCourt, searched: FoundCourt, agreement: LineAgreement) -> KnownCourt:
    """Decide as `check_marked` does, by how far the marked court and the painted lines agree.

    Parameters
    ----------
    marked
        the marked court
    searched
        the court searched in the same picture
    agreement
        of the marked court with the picture's lines

    Raises
    ------
    InputError
        The marked court lies beside the lines, and none is found.
    """
    if agreement.agrees and agreement.is_straight:
        return KnownCourt(marked, None)
    found = searched.court
    if found is not None:
        relation = relate_courts(marked.camera, found.camera)
        turned = measure_turn(marked.camera, found.camera) > MOST_TURNED_DEG
        if relation == "other" or (relation == "same" and turned):
            return KnownCourt(None, searched, "replaced")
        # Of courts beside each other the marked one may be the one that is hardly seen.
        return KnownCourt(marked, None, "agrees" if relation == "same" else "unseen")
    if agreement.agrees:
        # Marks by hand may be so far off, and nothing better is known.
        return KnownCourt(marked, None)
    if agreement.disagrees:
        raise InputError(
            _(
                "The court file does not fit this clip: lines are painted on the floor, but "
                "hardly any of the marked court's lies on one. The phone was moved after the "
                "court was marked, or the file is another clip's. Mark the court anew with: "
                "stance court CLIP, or run without a court file, so that the court is searched "
                "in the picture."
            )
        )
    return KnownCourt(marked, None, "unseen")
