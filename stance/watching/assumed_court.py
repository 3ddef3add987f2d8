"""A camera assumed from a player, where there is no court."""

import numpy as np

from stance.court.assumed import assumed_camera
from stance.court.calibration import CalibratedCourt
from stance.people.landmarks import FEET, LEFT_SHOULDER, NOSE, RIGHT_SHOULDER
from stance.people.track import Track


def assume_court(track: Track, image_size: tuple[int, int]) -> CalibratedCourt:
    """Assume a camera from the place and size of the player in the middle of what was seen.

    Parameters
    ----------
    track
        of the player, seen at least once
    image_size
        (width, height), pixels
    """
    seen = np.flatnonzero(track.seen)
    pixels = track.pixels[seen]
    feet = pixels[:, FEET].mean(axis=1)
    middle = int(np.argmin(np.abs(feet - np.median(feet, axis=0)).sum(axis=-1)))
    away = np.median(pixels[:, RIGHT_SHOULDER, 0] - pixels[:, LEFT_SHOULDER, 0]) > 0
    # The crown of the head is above the nose by about a seventh of the height nose to feet.
    nose = pixels[middle, NOSE]
    head = nose + (nose - feet[middle]) / 7.0
    return assumed_camera(feet[middle], head, image_size, facing="away" if away else "towards")
