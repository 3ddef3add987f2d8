"""Which strokes are serves: the first of a rally, struck from a stand and from below.

A feeder's strokes are that too, but come again and again at a slow pace.
"""

from collections.abc import Sequence

import numpy as np

from stance.strokes.motion import HIP_SPEED, WRIST_HEIGHT
from stance.types import BoolArray, FloatArray

RALLY_PAUSE_S = 5.0
"""After so long without a stroke of either side, the next one opens a rally, seconds; strokes of
one side alone are further apart (`statistics/rallies.py`)."""

_STAND_S = (0.6, 0.1)
"""Who serves stands still from so long before the contact until so long before it, seconds."""

_STAND_SPEED = 0.5
"""Hips faster than this, in metres a second, by the median of that time, are on the move: before 20
serves of real rallies they were at 0.1 to 0.3, before nine of ten other strokes above 0.6."""

_HIGHEST_WRIST = 0.15
"""At a serve the wrist is no higher over the shoulders than this, metres: the shuttle is struck
below 1.15 m (Laws of Badminton, 9.1.6)."""

_SLOWEST_RALLY_S = 2.5
"""Seconds from one stroke of a side to its next in a rally, at most, by the median; feeds come more
slowly."""


def find_serves(times_s: FloatArray, sides: Sequence[int], opens_low: Sequence[bool]) -> BoolArray:
    """Tell which strokes are serves.

    Parameters
    ----------
    times_s
        (strokes,) contacts in the order of time, seconds
    sides
        (strokes,) 0 or 1
    opens_low
        (strokes,) whether the striker stood and struck from below, as `stands_and_strikes_low`
        tells

    Returns
    -------
    (strokes,)
    """
    serves = np.zeros(len(times_s), bool)
    if not len(times_s):
        return serves
    starts = np.flatnonzero(np.diff(times_s, prepend=-np.inf) > RALLY_PAUSE_S)
    ends = [*starts[1:].tolist(), len(times_s)]
    for start, end in zip(starts.tolist(), ends, strict=True):
        own = [float(times_s[n]) for n in range(start, end) if sides[n] == sides[start]]
        feeds = len(own) > 1 and float(np.median(np.diff(own))) > _SLOWEST_RALLY_S
        serves[start] = opens_low[start] and not feeds
    return serves


def stands_and_strikes_low(motion: FloatArray, times: FloatArray, time_s: float) -> bool:
    """Tell whether a player stands before a stroke and strikes it from below the shoulders.

    Parameters
    ----------
    motion
        (moments, numbers) of `describe_motion`
    times
        (moments,) seconds
    time_s
        of the contact
    """
    before = (times >= time_s - _STAND_S[0]) & (times <= time_s - _STAND_S[1])
    about = np.abs(times - time_s) <= 0.1
    speeds, heights = motion[before, HIP_SPEED], motion[about, WRIST_HEIGHT]
    if np.isnan(heights).all():
        return False
    stands = np.isnan(speeds).all() or float(np.nanmedian(speeds)) < _STAND_SPEED
    return stands and float(np.nanmedian(heights)) < _HIGHEST_WRIST
