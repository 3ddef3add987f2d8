"""The racket hand, seen from which hand moves more over the whole clip."""

import numpy as np
import numpy.typing as npt
from scipy.special import stdtr

from stance.players import Track
from stance.poses import LEFT_SHOULDER, LEFT_WRIST, RIGHT_SHOULDER, RIGHT_WRIST

FloatArray = npt.NDArray[np.float64]

# A wrist less visible than this is hidden, and where the model puts it is a guess.
_LEAST_VISIBILITY = 0.1

# Seconds of the clip that are one vote, and how far apart two looks may be that give a speed.
_VOTE_SECONDS = 0.5
_LONGEST_STEP = 0.2

# Faster than this, in metres a second, a wrist jumps from one guess to another rather than swings;
# slower than that, nothing of note moves.
_FASTEST, _SLOW = 4.0, 0.3

# Spread of the votes that is taken for granted, so that few votes do not look certain.
_PRIOR_SPREAD = 0.1

# Confidence from which the hand counts as seen.
SURE = 0.95


def seen_hand(track: Track) -> tuple[str, float]:
    """Tell the racket hand: the one that moves more against the shoulders, in space.

    The hand with the racket swings it, reaches with it and brings it back up; the other mostly
    goes along. Each half second in which both wrists can be seen is a vote for the hand that moves
    faster in it, weighed by how much faster. The confidence is the chance that the mean of such
    votes has the sign that was seen, by Student's t over the clip.

    Parameters
    ----------
    track : Track

    Returns
    -------
    "right" or "left", and the confidence, 0.5 to 1
    """
    shoulders = track.world[:, [LEFT_SHOULDER, RIGHT_SHOULDER]].mean(axis=1, keepdims=True)
    wrists = track.world[:, [LEFT_WRIST, RIGHT_WRIST]] - shoulders
    step = np.diff(track.times)
    fast = np.minimum(
        np.linalg.norm(np.diff(wrists, axis=0), axis=-1) / step[:, None], _FASTEST)
    hidden = np.asarray(
        track.visibility[:, [LEFT_WRIST, RIGHT_WRIST]].min(axis=1) < _LEAST_VISIBILITY)
    # A player at rest keeps the pose unlooked at, which says nothing of either hand.
    looked_at = fast.max(axis=1) > 0.0
    known = looked_at & (step < _LONGEST_STEP) & ~hidden[1:] & ~hidden[:-1]
    part = ((track.times[1:] - track.times[0]) // _VOTE_SECONDS).astype(int)
    votes = []
    for number in np.unique(part[known]):
        some = fast[known & (part == number)]
        left, right = some.mean(axis=0)
        if len(some) >= 2 and max(left, right) >= _SLOW:
            votes.append(np.log((right + _SLOW) / (left + _SLOW)))
    if not votes:
        return "right", 0.5
    mean = float(np.mean(votes))
    squares = float(np.sum((np.array(votes) - mean) ** 2)) + _PRIOR_SPREAD
    spread = np.sqrt(squares / len(votes))
    chance = float(stdtr(len(votes), abs(mean) / (spread / np.sqrt(len(votes)))))
    return ("right" if mean >= 0 else "left"), chance
