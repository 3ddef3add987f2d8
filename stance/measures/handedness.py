"""The racket hand: which one is seen to hold the racket, and which moves more, over the clip."""

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt
import scipy

from stance.court.camera import Camera, project
from stance.people.floor import base_on_floor
from stance.people.landmarks import (
    LEFT_HIP,
    LEFT_SHOULDER,
    LEFT_WRIST,
    RIGHT_HIP,
    RIGHT_SHOULDER,
    RIGHT_WRIST,
)
from stance.people.track import Track
from stance.types import Hand

_LEAST_VISIBILITY = 0.1
"""A wrist less visible than this is hidden, and where the model puts it is a guess."""

_VOTE_SECONDS = 1.0
"""Seconds of the clip that are one vote, since pictures of one ready position are much alike."""

_LONGEST_STEP = 0.2
"""How far apart two observations may be that give a speed, seconds."""

_FASTEST, _SLOW = 4.0, 0.3
"""Faster than this, in metres a second, a wrist jumps from one guess to another rather than swings;
slower than that, nothing of note moves."""

_MOTION_SPREAD, _RACKET_SPREAD = 0.1, 4.0
"""Sum of squares of the votes that is taken for granted, so that few votes do not look certain: of
motion, and of what pictures show."""

_SUREST_MOTION, _SUREST_PICTURES = 0.75, 0.99
"""Neither motion nor pictures alone are surer than this: both may err all through a clip. In pairs
of the tune split motion alone is right for three of four players, however sure its votes are."""

_RIGHT_HANDED = 0.7
"""What is taken for granted before anything is seen: most people are right-handed (nine of ten,
common practice). No more than this, so that motion alone can still tell a left-hander."""

_SHOULDERS_M, _AGAINST_HIPS = 0.35, 1.5
"""How far apart shoulders are, metres, and against hips, about."""

_FROM_IN_FRONT, _LEAST_FACING = 0.13, 0.2
"""Where so much of a player facing the net would show from in front, against the height, less than
that part of it is not seen: the model has taken left for right. On the tune split the network is
right in a third of such observations."""

SURE = 0.95
"""Confidence from which the hand counts as seen."""


def estimate_racket_hand(
    track: Track, rackets: Mapping[int, float], camera: Camera
) -> tuple[Hand, float]:
    """Tell the racket hand: the one that moves more, and that pictures show with the racket.

    Without either the right hand is taken, and is not sure.

    The hand with the racket swings it, reaches with it and brings it back up; the other mostly
    goes along. Each second in which both wrists can be seen is a vote for the hand that moves
    faster in it, in space, against the shoulders, weighed by how much faster. Each second
    with pictures is another vote, for the hand in which they show the racket. For both kinds
    the chance that the mean of such votes has the sign that was seen follows by Student's t over
    the clip; the odds of both are multiplied. Looks in which left and right are mixed up count for
    neither.

    Parameters
    ----------
    track
        one player's poses through the clip
    rackets
        by frame, the logarithm of the odds that the right hand holds the racket, as that picture
        shows it (`stance.measures.racket`)
    camera
        in the frame of the player's half

    Returns
    -------
    "right" or "left", and the confidence, 0.5 to 1
    """
    mixed = find_side_swaps(track, camera)
    frames = np.array(sorted(rackets.keys() - set(track.frames[mixed].tolist())), int)
    part = (np.interp(frames, track.frames, track.times) // _VOTE_SECONDS).astype(int)
    odds = np.array([rackets[frame] for frame in frames.tolist()])
    shown = [float(odds[part == number].mean()) for number in np.unique(part)]
    sum_of_odds = float(
        scipy.special.logit(_RIGHT_HANDED)
        + _log_odds(_vote_by_motion(track, mixed), _MOTION_SPREAD, _SUREST_MOTION)
        + _log_odds(shown, _RACKET_SPREAD, _SUREST_PICTURES)
    )
    confidence = float(scipy.special.expit(abs(sum_of_odds)))
    return ("right" if sum_of_odds >= 0 else "left"), confidence


def find_side_swaps(track: Track, camera: Camera) -> npt.NDArray[np.bool_]:
    """Tell in which observations from in front the pose model has taken left for right.

    A defender faces the net, so seen from beyond it the right shoulder and hip are on the left.

    Parameters
    ----------
    track
        one player's poses through the clip
    camera
        in the frame of the player's half

    Returns
    -------
    (observations,)
    """
    base = base_on_floor(camera, track.pixels)
    hips = np.concatenate([base, np.ones((len(base), 1))], axis=1)
    facing = project(camera, hips + (_SHOULDERS_M, 0.0, 0.0)) - project(camera, hips)
    right, left = (
        track.pixels[:, [shoulder, hip]] * ((1.0,), (_AGAINST_HIPS,))
        for shoulder, hip in ((RIGHT_SHOULDER, RIGHT_HIP), (LEFT_SHOULDER, LEFT_HIP))
    )
    share = ((right - left).mean(axis=1) * facing).sum(axis=1) / (facing**2).sum(axis=1)
    heights = np.ptp(track.pixels[:, :, 1], axis=1)
    return np.asarray((-facing[:, 0] > _FROM_IN_FRONT * heights) & (share < _LEAST_FACING))


def _vote_by_motion(track: Track, mixed: npt.NDArray[np.bool_]) -> list[float]:
    """Votes of motion, positive for the right hand, where sides are not mixed up."""
    shoulders = track.world[:, [LEFT_SHOULDER, RIGHT_SHOULDER]].mean(axis=1, keepdims=True)
    wrists = track.world[:, [LEFT_WRIST, RIGHT_WRIST]] - shoulders
    step = np.diff(track.times)
    fast = np.minimum(np.linalg.norm(np.diff(wrists, axis=0), axis=-1) / step[:, None], _FASTEST)
    hidden = (
        np.asarray(track.visibility[:, [LEFT_WRIST, RIGHT_WRIST]].min(axis=1) < _LEAST_VISIBILITY)
        | mixed
    )
    # A player at rest keeps the pose unobserved, which says nothing of either hand.
    observed = fast.max(axis=1) > 0.0
    known = observed & (step < _LONGEST_STEP) & ~hidden[1:] & ~hidden[:-1]
    part = ((track.times[1:] - track.times[0]) // _VOTE_SECONDS).astype(int)
    votes = []
    for number in np.unique(part[known]):
        some = fast[known & (part == number)]
        left, right = some.mean(axis=0)
        if len(some) >= 2 and max(left, right) >= _SLOW:
            votes.append(float(np.log((right + _SLOW) / (left + _SLOW))))
    return votes


def _log_odds(votes: Sequence[float], spread: float, surest: float) -> float:
    """Logarithm of the odds that the mean of votes is positive, by Student's t.

    Parameters
    ----------
    votes
        positive for the right hand
    spread
        sum of squares that is taken for granted
    surest
        the chance is taken to be no more than this, and no less than the rest
    """
    if not votes:
        return 0.0
    mean = float(np.mean(votes))
    squares = float(np.sum((np.array(votes) - mean) ** 2)) + spread
    error = np.sqrt(squares) / len(votes)
    chance = scipy.special.stdtr(len(votes), mean / error)
    return float(scipy.special.logit(np.clip(chance, 1.0 - surest, surest)))
