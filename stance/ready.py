"""Ready positions: the spells in which a player waits, set, for the opponent's stroke.

Feet, hips and racket hand are watched in the picture, their motion scaled to metres at the
player's distance: along the viewing direction the floor position of a foot is far noisier than
its place in the picture, so speeds are taken in the picture's plane.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from stance.body import knee_flexion, side_indices
from stance.players import FEET, Track
from stance.poses import (
    LEFT_HIP,
    LEFT_SHOULDER,
    LEFT_WRIST,
    RIGHT_HIP,
    RIGHT_SHOULDER,
    RIGHT_WRIST,
)

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

# Shortest ready position and longest gap bridged, seconds (docs/definitions.md).
SHORTEST = 0.2
LONGEST_GAP = 0.15

# Seconds over which a speed is taken: half of it lies before the frame and half after.
_SPEED_WINDOW = 0.13

# Speeds in metres a second in the picture's plane above which a part of the body is on the move.
# Chosen in the middle of what works on clips of the tune split
# (`python -m tests.training.ready_limits`).
_FOOT_SPEED = 0.25
_HIP_SPEED = 0.5
_WRIST_SPEED = 0.8

# Knees straighter than this on both legs are standing, not waiting, degrees.
_LEAST_KNEE_FLEXION = 12.0

# Feet further apart than this before and after a gap are not the same feet, metres.
_SAME_FEET = 0.10


@dataclass(frozen=True)
class Spell:
    """A ready position as a range of looks of a track: `start` to `end`, both inside."""

    start: int
    end: int


def speeds(points: FloatArray, times: FloatArray) -> FloatArray:
    """Speed of points that move in a plane, by a straight line through a short window.

    Parameters
    ----------
    points : (looks, ..., 2) in any unit of length; NaN where unknown
    times : (looks,) seconds, three or more

    Returns
    -------
    (looks, ...) that unit a second; NaN where a look of the window is not known
    """
    result = np.full(points.shape[:-1], np.nan)
    first = np.searchsorted(times, times - _SPEED_WINDOW / 2 - 1e-6)
    last = np.searchsorted(times, times + _SPEED_WINDOW / 2 + 1e-6, side="right")
    for i in range(len(times)):
        # At low frame rates the window would hold one look; two more always count.
        start = max(min(first[i], i - 1, len(times) - 3), 0)
        window = slice(start, max(last[i], start + 3))
        seconds = times[window] - times[window].mean()
        moved = np.tensordot(seconds, points[window], axes=1) / (seconds @ seconds)
        result[i] = np.linalg.norm(moved, axis=-1)
    return result


def find_spells(track: Track, metres_per_pixel: FloatArray, hand: str) -> tuple[Spell, ...]:
    """Find the ready positions of a player.

    Parameters
    ----------
    track : Track
    metres_per_pixel : (looks,) size of a pixel at the player's distance, metres
    hand : "right" or "left"

    Returns
    -------
    Spells in the order of time
    """
    if len(track.times) < 3:
        return ()
    still = _still(track, metres_per_pixel, hand)
    spells = [Spell(int(a), int(b)) for a, b in _runs(still)]
    feet = track.pixels[:, FEET, :] * np.nanmedian(metres_per_pixel)
    spells = _bridged(spells, track.times, feet)
    flexion = knee_flexion(track.world, hand)
    step = float(np.median(np.diff(track.times)))
    return tuple(
        s for s in spells
        if track.times[s.end] - track.times[s.start] + step >= SHORTEST
        and np.nanmedian(flexion[s.start:s.end + 1].max(axis=-1)) >= _LEAST_KNEE_FLEXION
    )


def _still(track: Track, metres_per_pixel: FloatArray, hand: str) -> BoolArray:
    """(looks,) whether feet, hips and racket hand are at rest."""
    pixels = track.pixels
    feet = pixels[:, FEET, :].reshape(-1, 2, 2, 2).mean(axis=1)
    hips = pixels[:, [LEFT_HIP, RIGHT_HIP], :].mean(axis=1)
    shoulders = pixels[:, [LEFT_SHOULDER, RIGHT_SHOULDER], :].mean(axis=1)
    wrist = pixels[:, side_indices(hand, LEFT_WRIST, RIGHT_WRIST)[0], :] - shoulders
    # The scale of one frame is as noisy as its feet, so it may only multiply differences.
    points = np.stack([feet[:, 0], feet[:, 1], hips, wrist], axis=1)
    moving = speeds(points, track.times) * metres_per_pixel[:, None]
    with np.errstate(invalid="ignore"):
        return np.asarray((moving < (_FOOT_SPEED, _FOOT_SPEED, _HIP_SPEED, _WRIST_SPEED)).all(
            axis=-1))


def activity(
    before: FloatArray, after: FloatArray, seconds: float, metres_per_pixel: float,
    hands: Sequence[str],
) -> float:
    """How much a player moved between two looks, against the limits of waiting.

    Parameters
    ----------
    before, after : (33, 2) pixels
    seconds : between them
    metres_per_pixel : metres
    hands : those that may hold the racket

    Returns
    -------
    Largest speed of feet, hips and racket hands in the picture's plane over its limit
    """
    def points(pixels: FloatArray) -> FloatArray:
        feet = pixels[list(FEET)].reshape(2, 2, 2).mean(axis=0)
        hips = pixels[[LEFT_HIP, RIGHT_HIP]].mean(axis=0)
        shoulders = pixels[[LEFT_SHOULDER, RIGHT_SHOULDER]].mean(axis=0)
        wrists = [pixels[side_indices(hand, LEFT_WRIST, RIGHT_WRIST)[0]] - shoulders
                  for hand in hands]
        return np.stack([*feet, hips, *wrists])

    limits = (_FOOT_SPEED, _FOOT_SPEED, _HIP_SPEED, *[_WRIST_SPEED] * len(hands))
    moved = np.linalg.norm(points(after) - points(before), axis=-1) * metres_per_pixel
    return float((moved / seconds / limits).max())


def _runs(mask: BoolArray) -> npt.NDArray[np.int_]:
    """(runs, 2) first and last index of each run of True."""
    edges = np.diff(np.concatenate([[False], mask, [False]]).astype(int))
    return np.stack([np.flatnonzero(edges == 1), np.flatnonzero(edges == -1) - 1], axis=-1)


def _bridged(spells: list[Spell], times: FloatArray, feet: FloatArray) -> list[Spell]:
    """Join spells parted by a short gap over which the feet have kept their place."""
    joined: list[Spell] = []
    for spell in spells:
        if joined:
            before = joined[-1]
            gap = times[spell.start] - times[before.end]
            moved = np.nanmedian(feet[spell.start:spell.end + 1], axis=0) - np.nanmedian(
                feet[before.start:before.end + 1], axis=0)
            if gap < LONGEST_GAP and np.linalg.norm(moved, axis=-1).max() < _SAME_FEET:
                joined[-1] = Spell(before.start, spell.end)
                continue
        joined.append(spell)
    return joined
