"""Evidence for strokes: what both sides' motion and the sound say, moment by moment."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stance.strokes.network import StrokeNetwork
from stance.types import BoolArray, FloatArray, Half

HALVES: tuple[Half, Half] = ("near", "far")

_UNSEEN = -2.7
"""Logarithm of the odds of a stroke where a side has players, but none is seen: about how rare
strokes are."""

_HEARD_BEFORE_S, _HEARD_AFTER_S = 0.06, 0.10
"""A hit is heard so long before and after the moment of a stroke: the moment's own error, and 30
thousandths of a second for ten metres of air (343 m/s, ISO 9613-1 at 20 degrees)."""

_HEARD_HITS = 0.85
"""Share of hits that are heard as sharp onsets, where a clip's sound is of the rally at all."""

_MOST_HEARD = 2.5
"""What sound may add or take at most, so that it decides only where motion leaves it open."""


@dataclass(frozen=True)
class Evidence:
    """Logarithms of odds that a side strikes, in the order of `HALVES`.

    Attributes
    ----------
    times
        (moments,) seconds
    striking
        (moments, 2) from the motion of the side's own players; NaN where none is seen
    facing
        (moments, 2) from the motion of the other side's players; NaN where none is seen
    heard
        (moments,) whether the sound has an onset there
    sound
        (moments,) what the sound adds
    strikers
        for each half, the (moments, players) log odds of each of its players
    """

    times: FloatArray
    striking: FloatArray
    facing: FloatArray
    heard: BoolArray
    sound: FloatArray
    strikers: tuple[FloatArray, FloatArray]

    @property
    def total(self) -> FloatArray:
        """(moments, 2) all evidence together."""
        striking, facing = (
            np.where(np.isnan(part), _UNSEEN, part) for part in (self.striking, self.facing)
        )
        # When a stroke is faced shows a little less exactly than when it is played.
        padded = np.pad(facing, ((1, 1), (0, 0)), "edge")
        facing = np.maximum(facing, np.maximum(padded[:-2], padded[2:]))
        return np.asarray(striking + facing + self.sound[:, None])


def gather_evidence(
    network: StrokeNetwork,
    times: FloatArray,
    motions: Mapping[Half, Sequence[FloatArray]],
    onsets_s: FloatArray,
) -> Evidence:
    """Gather what speaks for strokes of each side.

    Parameters
    ----------
    network
        that reads a player's motion
    times
        (moments,) seconds
    motions
        for each half, its players' motion (moments, numbers)
    onsets_s
        (onsets,) sharp onsets of the sound, seconds

    Returns
    -------
    Evidence
    """
    count = len(times)
    unknown = np.full((count, 1), np.nan)
    striking, facing = np.full((2, 2, count), np.nan)
    strikers = []
    for number, half in enumerate(HALVES):
        odds = [network.log_odds(motion) for motion in motions.get(half, ())]
        own = np.stack([o[:, 0] for o in odds], axis=1) if odds else unknown
        theirs = np.stack([o[:, 1] for o in odds], axis=1) if odds else unknown
        # Whoever of a pair strikes; whoever of them shows best that they face a stroke.
        striking[number] = _largest(own)
        facing[1 - number] = _largest(theirs)
        strikers.append(own)
    heard = _hear(times, onsets_s)
    return Evidence(
        times, striking.T, facing.T, heard, _weigh_sound(heard), (strikers[0], strikers[1])
    )


def _largest(values: FloatArray) -> FloatArray:
    """Largest known value of each row, NaN where none is known."""
    largest = np.where(np.isnan(values), -np.inf, values).max(axis=1)
    return np.where(np.isinf(largest), np.nan, largest)


def _hear(times: FloatArray, onsets_s: FloatArray) -> BoolArray:
    """Tell at which moments a hit may be heard."""
    onsets = np.sort(onsets_s)
    first = np.searchsorted(onsets, times - _HEARD_BEFORE_S)
    last = np.searchsorted(onsets, times + _HEARD_AFTER_S)
    return np.asarray(last > first)


def _weigh_sound(heard: BoolArray) -> FloatArray:
    """What sound adds: much where onsets are rare, next to nothing in a noisy hall."""
    by_chance = float(np.clip(heard.mean(), 1e-3, 1.0))
    if not heard.any():
        return np.zeros(len(heard))
    yes = np.log(_HEARD_HITS / min(by_chance, _HEARD_HITS))
    no = np.log((1.0 - _HEARD_HITS) / max(1.0 - by_chance, 1.0 - _HEARD_HITS))
    return np.asarray(np.clip(np.where(heard, yes, no), -_MOST_HEARD, _MOST_HEARD))
