"""The racket hand: what pictures of the hands show and how the arms are held and swung."""

import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy

from stance.court.camera import Camera, project
from stance.measures.arm_motion import describe_arms
from stance.people.floor import base_on_floor
from stance.people.landmarks import LEFT_HIP, LEFT_SHOULDER, RIGHT_HIP, RIGHT_SHOULDER
from stance.people.track import Track
from stance.runtime.model_files import damaged_file, network_card
from stance.types import FloatArray, Hand

ARMS_FILE = "arms.json"

_VOTE_SECONDS = 1.0
"""Seconds of the clip that are one vote of pictures, since those of one moment are much alike."""

_PICTURE_SPREAD = 4.0
"""Sum of squares of the votes that is taken for granted, so that few votes do not look certain."""

_NO_EVIDENCE, _SUREST_PICTURES = 2.5, 8.0
"""Logarithms of odds: of real players in rallies the network, which knows rendered ones alone,
is right no more often than by chance where its odds are less than the first (68 tracks of 33
rallies, largest wrong odds 5); it is never believed beyond the second."""

_SUREST_ARMS = 4.0
"""Logarithm of odds beyond which the arms alone are not believed: 98 in 100."""

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
    """Tell the racket hand by the carriage and the swings of the arms, and by pictures.

    Without either the right hand is taken, and is not sure. Neither hand is favoured beforehand:
    mirrored poses and pictures give the other hand with the same confidence.

    What the arms do in half a second is weighed as learned from players whose hand is known. Each
    second with pictures is a vote for the hand in which they show the racket, and the chance that
    the mean of such votes has the sign that was seen follows by Student's t. The odds of both are
    multiplied.

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
    model = arms_model()
    scores = describe_arms(track, camera) @ np.array(model.weights)
    sum_of_odds = arms_log_odds(scores, model) + _picture_log_odds(track, rackets, camera)
    confidence = float(scipy.special.expit(abs(sum_of_odds)))
    return ("right" if sum_of_odds >= 0 else "left"), confidence


@dataclass(frozen=True)
class ArmsModel:
    """What the arms tell, as learned (`tests/training/arms.py`).

    Attributes
    ----------
    weights
        of the numbers of `stance.measures.arm_motion.describe_arms`; their sum is a window's score
    mean
        of the scores of right-handers
    between_players, between_windows
        variance of players' mean scores about that, and of one player's windows, as if these did
        not overlap
    """

    weights: Sequence[float]
    mean: float
    between_players: float
    between_windows: float


@functools.cache
def arms_model() -> ArmsModel:
    """Read what was learned of the arms.

    Raises
    ------
    StanceError
        If its file is missing or damaged.
    """
    card = network_card(ARMS_FILE)
    try:
        return ArmsModel(
            tuple(float(weight) for weight in card["weights"]),
            float(card["mean"]),
            float(card["between_players"]),
            float(card["between_windows"]),
        )
    except (KeyError, TypeError, ValueError) as error:
        raise damaged_file(ARMS_FILE) from error


def arms_log_odds(scores: FloatArray, model: ArmsModel) -> float:
    """Tell how much a player's windows speak for the right hand.

    The mean score of a right-hander is normal about `model.mean`, a left-hander's about its
    negative, with the variance of players and, over their number, of windows.

    Parameters
    ----------
    scores
        (windows,)
    model
        how players' scores vary

    Returns
    -------
    Logarithm of the odds that the right hand is the racket hand
    """
    if not len(scores):
        return 0.0
    variance = model.between_players + model.between_windows / len(scores)
    odds = 2.0 * model.mean * float(scores.mean()) / variance
    return float(np.clip(odds, -_SUREST_ARMS, _SUREST_ARMS))


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


def _picture_log_odds(track: Track, rackets: Mapping[int, float], camera: Camera) -> float:
    """Logarithm of the odds that pictures show the racket in the right hand, by Student's t.

    Pictures in which left and right are mixed up do not count.
    """
    mixed = find_side_swaps(track, camera)
    frames = np.array(sorted(rackets.keys() - set(track.frames[mixed].tolist())), int)
    if not len(frames):
        return 0.0
    part = (np.interp(frames, track.frames, track.times) // _VOTE_SECONDS).astype(int)
    shown = np.array([rackets[frame] for frame in frames.tolist()])
    votes = np.array([shown[part == number].mean() for number in np.unique(part)])
    squares = float(np.sum((votes - votes.mean()) ** 2)) + _PICTURE_SPREAD
    error = np.sqrt(squares) / len(votes)
    # The chance of the other hand, which is small, is exact where that of this one rounds to 1.
    against = scipy.special.stdtr(len(votes), -abs(votes.mean()) / error)
    odds = -float(scipy.special.logit(max(float(against), 1e-12)))
    believed = np.clip(odds - _NO_EVIDENCE, 0.0, _SUREST_PICTURES)
    return float(np.sign(votes.mean()) * believed)
