"""Planted spells: both feet down at once, for some hundredths of a second or many seconds.

A defender in play lands from a small hop and goes a quarter of a second later; hips sink and arms
move meanwhile, so that the feet alone tell. In the picture's plane, as for ready positions.
"""

import numpy as np

from stance.measures.motion import feet_positions, find_runs
from stance.measures.ready_positions import Spell, speeds
from stance.people.track import Track
from stance.types import BoolArray, FloatArray

PLANTED_SPEED, _SURELY_PLANTED_SPEED = 1.1, 0.7
"""A foot slower than the first, in metres a second, is planted: landmarks of planted feet move at
up to that speed, feet that step or hop at one to five metres a second. Where both are slower than
the second, the spell lasts only as long as that: so landing and leaving are known best. On 51
labelled strokes of real rallies, met set or not, and on rendered play the first is good from 0.9 to
1.2, the second from 0.6 to 0.8."""

_RESTING_SPEED, _RESTING_S = 0.4, 0.14
"""Where feet are that slow over so long, metres a second and seconds, the spell is these parts
alone: short steps and low hops are no faster than the landmarks of planted feet seem to be, but
lead away. On rendered play 6 in a hundred spells then end more than 0.2 s off instead of 17, and 12
begin so instead of 28; of 51 labelled strokes of real rallies as many are met set as without."""

_WINDOW_S = 0.07
"""A foot's speed is taken over this, seconds: the observation before, itself and the one after."""

_SHORTEST_S = 0.03
"""Shortest planted spell from its first observation to its last, seconds."""

_BRIDGED_S = 0.05
"""Shorter gaps, with the feet in place, are landmarks that jump, seconds."""

_IN_PLACE_M = 0.08
"""Feet that are nearer than this before and after a gap are in place, metres."""


def find_planted_spells(track: Track, metres_per_pixel: FloatArray) -> tuple[Spell, ...]:
    """Find the spells in which both feet are planted.

    Parameters
    ----------
    track
        one player's poses
    metres_per_pixel
        (observations,) size of a pixel at the player's distance, metres

    Returns
    -------
    Spells in the order of time
    """
    if len(track.times) < 3:
        return ()
    feet = feet_positions(track.pixels)
    with np.errstate(invalid="ignore"):
        moving = speeds(feet, track.times, _WINDOW_S) * metres_per_pixel[:, None]
        planted = np.asarray((moving < PLANTED_SPEED).all(axis=1))
        surely = np.asarray((moving < _SURELY_PLANTED_SPEED).all(axis=1))
        drifting = speeds(feet, track.times, _RESTING_S) * metres_per_pixel[:, None]
        rests = np.asarray((drifting < _RESTING_SPEED).all(axis=1))
    places = feet * np.nanmedian(metres_per_pixel)
    resting = surely & _is_near(rests, track.times, _RESTING_S / 2)
    found: list[Spell] = []
    for spell in _spells_where(planted, places, track.times):
        among = np.zeros(len(planted), bool)
        among[spell.start : spell.end + 1] = True
        found += _spells_where(resting & among, places, track.times) or [_shorten(spell, surely)]
    return tuple(found)


def _spells_where(holds: BoolArray, places: FloatArray, times: FloatArray) -> list[Spell]:
    """Spells in which something holds but for short gaps with the feet in place."""
    spells: list[Spell] = []
    for start, end in find_runs(holds).tolist():
        if spells and _stays(places, times, spells[-1].end, start):
            start = spells.pop().start
        spells.append(Spell(start, end))
    return [spell for spell in spells if times[spell.end] - times[spell.start] > _SHORTEST_S]


def _is_near(true: BoolArray, times: FloatArray, seconds: float) -> BoolArray:
    """Whether something is true in an observation so near in time."""
    apart = np.abs(times[:, None] - times[true])
    return np.asarray((apart < seconds + 1e-6).any(axis=1))


def _shorten(spell: Spell, surely: BoolArray) -> Spell:
    """The spell from its first to its last observation with both feet surely planted, if any."""
    sure = spell.start + np.flatnonzero(surely[spell.start : spell.end + 1])
    return Spell(int(sure[0]), int(sure[-1])) if len(sure) > 1 else spell


def _stays(places: FloatArray, times: FloatArray, end: int, start: int) -> bool:
    """Whether the feet are in place after a short gap between two spells."""
    moved = np.linalg.norm(places[start] - places[end], axis=-1)
    return bool(times[start] - times[end] <= _BRIDGED_S + 0.034 and moved.max() < _IN_PLACE_M)
