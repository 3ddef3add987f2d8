"""A camera assumed from a player, where there is no court."""

import numpy as np

from stance.court.assumed import assumed_camera
from stance.court.calibration import CalibratedCourt
from stance.errors import InputError
from stance.people.landmarks import FEET, LEFT_SHOULDER, NOSE, RIGHT_SHOULDER
from stance.people.track import Track
from stance.runtime.language import gettext as _
from stance.types import BoolArray, FilmedFrom, FloatArray


def assume_court(
    track: Track, image_size: tuple[int, int], filmed_from: FilmedFrom | None = None
) -> CalibratedCourt | None:
    """Assume a camera from the place and size of the player in the middle of what was seen.

    Parameters
    ----------
    track
        of the player, seen at least once
    image_size
        (width, height), pixels
    filmed_from
        where the phone stood; None where nobody says: then behind or in front of the player, by
        their shoulders, which is enough for sizes and for telling sides, not for directions

    Returns
    -------
    The camera; None where the player is not upright in most of what was seen, since the picture
    then lies on its side, or shows no standing player.
    """
    seen = track.pixels[np.flatnonzero(track.seen)]
    upright = _is_upright(seen)
    if not upright.mean() > 0.5:
        return None
    pixels = seen[upright]
    feet = pixels[:, FEET].mean(axis=1)
    middle = int(np.argmin(np.abs(feet - np.median(feet, axis=0)).sum(axis=-1)))
    # The crown of the head is above the nose by about a seventh of the height nose to feet.
    nose = pixels[middle, NOSE]
    head = nose + (nose - feet[middle]) / 7.0
    if filmed_from is None:
        away = np.median(pixels[:, RIGHT_SHOULDER, 0] - pixels[:, LEFT_SHOULDER, 0]) > 0
        filmed_from = "behind" if away else "front"
    return assumed_camera(feet[middle], head, image_size, filmed_from)


def assume_court_or_refuse(
    track: Track, image_size: tuple[int, int], filmed_from: FilmedFrom | None = None
) -> CalibratedCourt:
    """Assume a camera as `assume_court` does.

    Raises
    ------
    InputError
        The player is not upright.
    """
    court = assume_court(track, image_size, filmed_from)
    if court is None:
        raise InputError(
            _(
                "The picture seems to lie on its side or upside down: the player found in it "
                "does not stand upright. Turn the clip (in the phone's own video editor: crop, "
                "turn, save) and run again. If the picture is upright, mark the court with: "
                "stance court CLIP"
            )
        )
    return court


def _is_upright(pixels: FloatArray) -> BoolArray:
    """In which observations (n, 33, 2) the head is over the feet, leaning less than 45 degrees."""
    across, down = (pixels[:, FEET].mean(axis=1) - pixels[:, NOSE]).T
    return np.asarray(down > np.abs(across))
