"""The racket hand, seen from which hand swings over the whole clip."""

import numpy as np
import numpy.typing as npt

from stance.players import Track
from stance.poses import LEFT_SHOULDER, LEFT_WRIST, RIGHT_SHOULDER, RIGHT_WRIST
from stance.ready import speeds

FloatArray = npt.NDArray[np.float64]

# The racket hand's fastest twentieth of frames must be faster than the other hand's by this
# factor for the hand to count as seen.
SURE_RATIO = 1.25


def seen_hand(track: Track, metres_per_pixel: FloatArray) -> tuple[str, bool]:
    """Tell the racket hand: the one that moves faster against the shoulders.

    Parameters
    ----------
    track : Track
    metres_per_pixel : (looks,) metres

    Returns
    -------
    "right" or "left", and whether it is sure
    """
    if len(track.times) < 3:
        return "right", False
    shoulders = track.pixels[:, [LEFT_SHOULDER, RIGHT_SHOULDER]].mean(axis=1, keepdims=True)
    wrists = track.pixels[:, [LEFT_WRIST, RIGHT_WRIST]] - shoulders
    fast = speeds(wrists, track.times) * metres_per_pixel[:, None]
    if not np.isfinite(fast).any():
        return "right", False
    left, right = np.nanpercentile(fast, 95.0, axis=0)
    return ("right" if right >= left else "left",
            bool(max(left, right) > SURE_RATIO * min(left, right)))
