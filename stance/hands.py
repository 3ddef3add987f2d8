"""The racket hand, seen from which hand swings over the whole clip."""

import numpy as np
import numpy.typing as npt
from scipy.special import stdtr

from stance.players import Track
from stance.poses import LEFT_SHOULDER, LEFT_WRIST, RIGHT_SHOULDER, RIGHT_WRIST
from stance.ready import speeds

FloatArray = npt.NDArray[np.float64]

# A wrist less visible than this is hidden, and where the model puts it is a guess that jumps
# about faster than a swing.
_LEAST_VISIBILITY = 0.5

# Seconds in which the faster hand is taken as the one that swings, and the speed against the
# shoulders, in metres a second, from which it is a swing.
_SWING_SECONDS = 0.5
_SWING_SPEED = 1.0

# Confidence from which the hand counts as seen.
SURE = 0.9


def seen_hand(track: Track, metres_per_pixel: FloatArray) -> tuple[str, float]:
    """Tell the racket hand: the one that moves faster against the shoulders, swing by swing.

    Each half second with a swing is a vote for the hand that moves faster in it, weighed by how
    much faster. The confidence is the chance that the mean of such votes has the sign that was
    seen, by Student's t over the clip's swings.

    Parameters
    ----------
    track : Track
    metres_per_pixel : (looks,) metres

    Returns
    -------
    "right" or "left", and the confidence, 0.5 to 1
    """
    if len(track.times) < 3:
        return "right", 0.5
    shoulders = track.pixels[:, [LEFT_SHOULDER, RIGHT_SHOULDER]].mean(axis=1, keepdims=True)
    wrists = track.pixels[:, [LEFT_WRIST, RIGHT_WRIST]] - shoulders
    fast = speeds(wrists, track.times) * metres_per_pixel[:, None]
    visible = track.visibility[:, [LEFT_WRIST, RIGHT_WRIST]] >= _LEAST_VISIBILITY
    fast = np.where(visible, fast, np.nan)
    part = ((track.times - track.times[0]) // _SWING_SECONDS).astype(int)
    votes = []
    for number in np.unique(part):
        some = np.nan_to_num(fast[part == number])
        left, right = some.max(axis=0)
        if max(left, right) >= _SWING_SPEED:
            # A hand that is hidden may be moving too: it counts half as fast as a swing.
            votes.append(np.log(max(right, _SWING_SPEED / 2) / max(left, _SWING_SPEED / 2)))
    if not votes:
        return "right", 0.5
    mean = float(np.mean(votes))
    # A prior swing of either sign keeps few votes from looking certain.
    spread = float(np.sqrt((np.sum((np.array(votes) - mean) ** 2) + 0.5) / len(votes)))
    chance = float(stdtr(len(votes), abs(mean) / (spread / np.sqrt(len(votes)))))
    return ("right" if mean >= 0 else "left"), chance
