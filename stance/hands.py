"""The racket hand, seen from which hand swings over the whole clip."""

import numpy as np
import numpy.typing as npt

from stance.players import Track
from stance.poses import LEFT_SHOULDER, LEFT_WRIST, RIGHT_SHOULDER, RIGHT_WRIST
from stance.ready import speeds

FloatArray = npt.NDArray[np.float64]

# The speed that the racket hand passes in a tenth of its frames must be higher than the other
# hand's by this factor for the hand to count as seen.
SURE_RATIO = 1.25

# A wrist less visible than this is hidden, and where the model puts it is a guess that jumps
# about faster than a swing.
_LEAST_VISIBILITY = 0.5


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
    visible = track.visibility[:, [LEFT_WRIST, RIGHT_WRIST]] >= _LEAST_VISIBILITY
    left, right = (_swing(fast[seen, side]) for side, seen in enumerate(visible.T))
    return ("right" if right >= left else "left",
            bool(max(left, right) > SURE_RATIO * min(left, right)))


def _swing(fast: FloatArray) -> float:
    """Speed passed in a tenth of the frames in which a wrist is visible; 0 where it never is."""
    known = fast[np.isfinite(fast)]
    return float(np.percentile(known, 90.0)) if len(known) else 0.0
