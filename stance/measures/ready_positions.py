"""Ready positions: the spells in which a player waits, set, for the opponent's stroke.

Feet, hips and racket hand are watched in the picture, their motion scaled to metres at the
player's distance: along the viewing direction the floor position of a foot is far noisier than
its place in the picture, so speeds are taken in the picture's plane.
"""

from dataclasses import dataclass

import numpy as np

from stance.measures.motion import (
    FOOT_SPEED,
    HIP_SPEED,
    WRIST_SPEED,
    feet_positions,
    find_runs,
    wrist_positions,
)
from stance.people.landmarks import LEFT_HIP, RIGHT_HIP, side_indices
from stance.people.track import Track
from stance.types import BoolArray, FloatArray, Hand

SHORTEST = 0.2
"""Shortest ready position, seconds (docs/definitions.md)."""

LONGEST_GAP = 0.15
"""Longest gap that is bridged, seconds (docs/definitions.md)."""

SPEED_WINDOW = 0.13
"""Seconds over which the speed of somebody who waits is taken."""

_LEAST_KNEE_FLEXION = 12.0
"""Knees straighter than this on both legs are standing, not waiting, degrees."""

_SAME_FEET = 0.10
"""Feet further apart than this before and after a gap are not the same feet, metres."""

_IN_PLACE, _ASTRAY = 0.06, 1 / 3
"""Feet and hips that stay nearer than this to where they wait have not left their place, however
their landmarks tremble. A hop is higher. Metres. Up to a share of the observations may be astray:
a hop of seven centimetres spends more of its time above six."""

_LEAST_REST = 0.1
"""Gaps in which nothing but the landmarks has moved count as waiting, but so many seconds of a
spell are at rest themselves: in the tremble of a moment nobody waits."""

_UNMOVED = 0.03
"""Where the hips and one foot have moved less than this, the other foot has not stepped either: it
was seen in a wrong place, behind the net or the partner. Metres."""


@dataclass(frozen=True)
class Spell:
    """A ready position as a range of observations of a track: `start` to `end`, both inside."""

    start: int
    end: int


def speeds(points: FloatArray, times: FloatArray, window_s: float = SPEED_WINDOW) -> FloatArray:
    """Speed of points that move in a plane, by a straight line through a short window.

    Parameters
    ----------
    points
        (observations, ..., 2) in any unit of length; NaN where unknown
    times
        (observations,) seconds, three or more
    window_s
        seconds over which a speed is taken: half before the observation and half after

    Returns
    -------
    (observations, ...) that unit a second; NaN where an observation of the window is not known
    """
    result = np.full(points.shape[:-1], np.nan)
    first = np.searchsorted(times, times - window_s / 2 - 1e-6)
    last = np.searchsorted(times, times + window_s / 2 + 1e-6, side="right")
    # At low frame rates the window would hold one observation; two more always count.
    observations = np.arange(len(times))
    start = np.maximum(np.minimum(np.minimum(first, observations - 1), len(times) - 3), 0)
    count = np.maximum(last, start + 3) - start
    for size in np.unique(count):
        some = np.flatnonzero(count == size)
        window = start[some, None] + np.arange(size)
        seconds = times[window] - times[window].mean(axis=1, keepdims=True)
        moved = np.einsum("lw,lw...->l...", seconds, points[window])
        squares = (seconds**2).sum(axis=1).reshape(-1, *[1] * (result.ndim - 1))
        result[some] = np.linalg.norm(moved, axis=-1) / squares
    return result


def find_spells(track: Track, metres_per_pixel: FloatArray, hand: Hand) -> tuple[Spell, ...]:
    """Find the spells in which a player is at rest; with knees bent, the ready positions.

    Landmarks alone do not tell bent knees well (a knee bent by 44 degrees was seen as 8), so knees
    are judged by what a close observation measures: `has_bent_knees`.

    Parameters
    ----------
    track
        one player's poses through the clip
    metres_per_pixel
        (observations,) size of a pixel at the player's distance, metres
    hand
        "right" or "left"

    Returns
    -------
    Spells in the order of time
    """
    if len(track.times) < 3:
        return ()
    at_rest = _at_rest(track, metres_per_pixel, hand)
    rests = np.asarray(at_rest.all(axis=1))
    spells = [Spell(int(a), int(b)) for a, b in find_runs(rests)]
    hips = track.pixels[:, [LEFT_HIP, RIGHT_HIP]].mean(axis=1, keepdims=True)
    points = np.concatenate([feet_positions(track.pixels), hips], axis=1) * np.nanmedian(
        metres_per_pixel
    )
    spells, still = _bridge_gaps(spells, track.times, points, ~at_rest[:, 3])
    # Two stops of a moment, before and after a stroke in a lunge, are no wait. A microsecond more
    # than the shortest, so that rounding decides nothing.
    rest_s, still_s = (
        np.cumsum(np.append(0.0, np.diff(track.times) * (some[1:] & some[:-1])))
        for some in (rests, rests | still)
    )
    return tuple(
        s
        for s in spells
        if still_s[s.end] - still_s[s.start] > SHORTEST + 1e-6
        and rest_s[s.end] - rest_s[s.start] > _LEAST_REST + 1e-6
    )


def has_bent_knees(knee_flexion_deg: FloatArray) -> bool:
    """Whether a player at rest waits, set, rather than stands.

    Parameters
    ----------
    knee_flexion_deg
        (2,) degrees, of both legs
    """
    return bool(np.max(knee_flexion_deg) >= _LEAST_KNEE_FLEXION)


def _at_rest(track: Track, metres_per_pixel: FloatArray, hand: Hand) -> BoolArray:
    """(observations, 4) whether left foot, right foot, hips and racket hand are at rest."""
    pixels = track.pixels
    feet = feet_positions(pixels)
    hips = pixels[:, [LEFT_HIP, RIGHT_HIP], :].mean(axis=1)
    wrist = wrist_positions(pixels)[:, side_indices(hand, 0, 1)[0]]
    # The scale of one frame is as noisy as its feet, so it may only multiply differences.
    points = np.stack([feet[:, 0], feet[:, 1], hips, wrist], axis=1)
    moving = speeds(points, track.times) * metres_per_pixel[:, None]
    with np.errstate(invalid="ignore"):
        return np.asarray(moving < (FOOT_SPEED, FOOT_SPEED, HIP_SPEED, WRIST_SPEED))


def _bridge_gaps(
    spells: list[Spell],
    times: FloatArray,
    points: FloatArray,
    swings: BoolArray,
) -> tuple[list[Spell], BoolArray]:
    """Join spells parted by a short gap over which the feet have kept their place.

    Over a short gap they have kept it too where both would have had to jump under resting hips.
    The gap may be long where neither feet nor hips leave their place in it and the racket does not
    swing: then nothing but the landmarks has moved.

    Parameters
    ----------
    spells
        in the order of time
    times
        (observations,) seconds
    points
        (observations, 3, 2) metres: left foot, right foot, middle of the hips
    swings
        (observations,) whether the racket hand is on the move

    Returns
    -------
    Spells; (observations,) whether one lies in a gap in which nothing but landmarks has moved
    """
    joined: list[Spell] = []
    unmoved = np.zeros(len(times), bool)
    for spell in spells:
        if joined:
            before = joined[-1]
            gap = times[spell.start] - times[before.end]
            place, next_place = (
                np.nanmedian(points[s.start : s.end + 1], axis=0) for s in (before, spell)
            )
            left, right, hips = np.linalg.norm(next_place - place, axis=-1)
            same = max(left, right) < _SAME_FEET or max(min(left, right), hips) < _UNMOVED
            between = slice(before.end + 1, spell.start)
            away = np.linalg.norm(points[between] - (place + next_place) / 2.0, axis=-1)
            in_place = bool((np.mean(~(away < _IN_PLACE), axis=0) <= _ASTRAY).all())
            still = not swings[between].any()
            # Both feet elsewhere in so short a time, the hips in place: seen in wrong places.
            seen_wrongly = still and min(left, right) > _SAME_FEET and hips < _IN_PLACE
            unchanged = same and still and in_place
            unmoved[between] = unchanged
            if unchanged or (gap < LONGEST_GAP and (same or seen_wrongly)):
                joined[-1] = Spell(before.start, spell.end)
                continue
        joined.append(spell)
    return joined, unmoved
