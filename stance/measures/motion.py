"""A player's motion between observations: speeds, sides taken for each other, strays."""

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from stance.people.landmarks import (
    FEET,
    LEFT_HEEL,
    LEFT_SHOULDER,
    LEFT_TOE,
    LEFT_WRIST,
    RIGHT_HEEL,
    RIGHT_SHOULDER,
    RIGHT_TOE,
    RIGHT_WRIST,
)
from stance.people.track import Track
from stance.types import BoolArray, FloatArray

FOOT_SPEED = 0.25
"""Speed in metres a second in the picture's plane above which a foot is on the move. This and the
next two are chosen in the middle of what works on clips of the tune split
(`python -m tests.training.ready_limits`)."""

HIP_SPEED = 0.5
"""The same for the middle of the hips."""

WRIST_SPEED = 0.8
"""The same for the racket hand, against the shoulders."""

_SWAPPED = 0.3
"""Two that are this much nearer to where the other was than to where they were, as a part, have
been taken for each other."""

_NEXT_OBSERVATION = 0.035
"""A foot seen elsewhere in the middle one of three observations, each no further from the next than
this, has not moved: no step is so short. Seconds; a little more than between 30 pictures a
second."""

_LONGEST_SHOWN = 0.07
"""A picture shown for longer than this shows somebody at rest, seconds; shorter ones fill up a film
that was taken with fewer pictures a second than its file has."""


def fastest_foot(pixels: FloatArray, times: FloatArray, metres_per_pixel: FloatArray) -> FloatArray:
    """Speed of the foot that moves more, from each observation to the next.

    Parameters
    ----------
    pixels
        (observations, 33, 2); NaN where the player is not seen
    times
        (observations,) seconds
    metres_per_pixel
        (observations,) metres

    Returns
    -------
    (observations - 1,) metres a second in the picture's plane; infinite where one of two
    observations does not show the player
    """
    feet = feet_positions(pixels)
    mixed = _find_swaps(feet)[:, None, None]
    steps = np.where(mixed, feet[1:, ::-1] - feet[:-1], feet[1:] - feet[:-1])
    moved = np.linalg.norm(steps, axis=-1).max(axis=1) * metres_per_pixel[:-1] / np.diff(times)
    return np.asarray(np.where(np.isnan(moved), np.inf, moved))


def feet_positions(pixels: FloatArray) -> FloatArray:
    """Middles of the left and the right foot, (observations, 2, 2), from (..., 33, 2) pixels."""
    return np.asarray(pixels[:, FEET, :].reshape(-1, 2, 2, 2).mean(axis=1))


def wrist_positions(pixels: FloatArray) -> FloatArray:
    """The left and the right wrist from the shoulders' middle, (observations, 2, 2)."""
    shoulders = pixels[:, [LEFT_SHOULDER, RIGHT_SHOULDER], :].mean(axis=1, keepdims=True)
    return np.asarray(pixels[:, [LEFT_WRIST, RIGHT_WRIST], :] - shoulders)


def _find_swaps(pairs: FloatArray) -> BoolArray:
    """Tell where left and right change places, (observations - 1,), from (observations, 2, 2)."""
    kept = np.linalg.norm(pairs[1:] - pairs[:-1], axis=-1).sum(axis=-1)
    turned = np.linalg.norm(pairs[1:] - pairs[:-1, ::-1], axis=-1).sum(axis=-1)
    return np.asarray(turned < _SWAPPED * kept)


def _without_swaps(pairs: FloatArray) -> tuple[BoolArray, FloatArray]:
    """Tell where left and right are mixed up, (observations,), and give the pairs without that.

    Parameters
    ----------
    pairs
        (observations, 2, 2) in any unit of length
    """
    mixed = np.cumsum(np.concatenate([[False], _find_swaps(pairs)])) % 2 == 1
    if mixed.mean() > 0.5:
        mixed = ~mixed
    return mixed, np.where(mixed[:, None, None], pairs[:, ::-1], pairs)


def correct_side_swaps(track: Track) -> Track:
    """Give the feet and the wrists of a track the sides that most observations say.

    With feet in line or hands together the pose model takes left for right in some observations,
    and a player at rest would seem to jump.
    """
    seen = np.flatnonzero(track.seen)
    pixels = track.pixels.copy()
    for pairs, sides in (
        (feet_positions(pixels[seen]), ((LEFT_HEEL, RIGHT_HEEL), (LEFT_TOE, RIGHT_TOE))),
        (wrist_positions(pixels[seen]), ((LEFT_WRIST, RIGHT_WRIST),)),
    ):
        observations = seen[_without_swaps(pairs)[0]] if len(seen) else seen
        for left, right in sides:
            pixels[observations, left], pixels[observations, right] = (
                track.pixels[observations, right],
                track.pixels[observations, left],
            )
    return replace(track, pixels=pixels)


def correct_strays(track: Track) -> Track:
    """Put feet back that were seen elsewhere in a single observation among others close in time."""
    seen = np.flatnonzero(track.seen)
    pixels = track.pixels.copy()
    steps, feet = np.diff(track.times[seen]), pixels[seen][:, FEET]
    close = np.maximum(steps[:-1], steps[1:]) <= _NEXT_OBSERVATION
    middle = np.median([feet[:-2], feet[1:-1], feet[2:]], axis=0)
    pixels[seen[1:-1][close, None], FEET] = middle[close]
    return replace(track, pixels=pixels)


def without_repeats(track: Track) -> Track:
    """Leave out pictures that the clip shows again; the others get the times they were taken at.

    In a clip of 30 pictures a second made from 25 every fifth is shown twice, and who moves seems
    to stop there. From one such picture to the next the others were taken at equal distances.

    Returns
    -------
    Track of the frames that show a picture first
    """
    again = np.zeros(len(track.times), bool)
    again[1:] = (track.pixels[1:] == track.pixels[:-1]).all(axis=(1, 2))
    for start, end in find_runs(again):
        again[start : end + 1] &= track.times[end] - track.times[start - 1] <= _LONGEST_SHOWN
    if not again.any():
        return track
    picture = np.cumsum(~again) - 1
    shown = np.bincount(picture)
    middles = np.bincount(picture, track.times) / shown
    times = _spread_evenly(middles, np.flatnonzero(shown == shown.max()))
    first = ~again
    return Track(
        track.frames[first],
        times,
        track.pixels[first],
        track.visibility[first],
        track.world[first],
    )


def _spread_evenly(times: FloatArray, anchors: npt.NDArray[np.int_]) -> FloatArray:
    """Times at equal distances between the anchors' and beyond; one anchor changes nothing."""
    if len(anchors) < 2:
        return times
    numbers = np.arange(len(times))
    first, last = anchors[0], anchors[-1]
    step = (times[last] - times[first]) / (last - first)
    spread = np.interp(numbers, anchors, times[anchors])
    spread += step * (np.minimum(numbers - first, 0) + np.maximum(numbers - last, 0))
    return np.asarray(spread)


def find_runs(mask: BoolArray) -> npt.NDArray[np.int_]:
    """(runs, 2) first and last index of each run of True."""
    edges = np.diff(np.concatenate([[False], mask, [False]]).astype(int))
    return np.stack([np.flatnonzero(edges == 1), np.flatnonzero(edges == -1) - 1], axis=-1)
