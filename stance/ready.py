"""Ready positions: the spells in which a player waits, set, for the opponent's stroke.

Feet, hips and racket hand are watched in the picture, their motion scaled to metres at the
player's distance: along the viewing direction the floor position of a foot is far noisier than
its place in the picture, so speeds are taken in the picture's plane.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from stance.body import side_indices
from stance.players import FEET, Track
from stance.poses import (
    LEFT_HEEL,
    LEFT_HIP,
    LEFT_SHOULDER,
    LEFT_TOE,
    LEFT_WRIST,
    RIGHT_HEEL,
    RIGHT_HIP,
    RIGHT_SHOULDER,
    RIGHT_TOE,
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

# Two that are this much nearer to where the other was than to where they were, as a part, have
# been taken for each other.
_EXCHANGED = 0.3

# Feet further apart than this before and after a gap are not the same feet, metres.
_SAME_FEET = 0.10

# Feet and hips that stay nearer than this to where they wait have not left their place, however
# their landmarks tremble. A hop is higher. Metres. Up to a share of the looks may be astray: a hop
# of seven centimetres spends more of its time above six.
_IN_PLACE, _ASTRAY = 0.06, 1 / 3

# A foot seen elsewhere in the middle one of three looks, each no further from the next than this,
# has not moved: no step is so short. Seconds; a little more than between 30 pictures a second.
_NEXT_LOOK = 0.035

# Gaps in which nothing but the landmarks has moved count as waiting, but so many seconds of a spell
# are at rest themselves: in the tremble of a moment nobody waits.
_LEAST_REST = 0.1

# Where the hips and one foot have moved less than this, the other foot has not stepped either: it
# was seen in a wrong place, behind the net or the partner. Metres.
_UNMOVED = 0.03


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
    # At low frame rates the window would hold one look; two more always count.
    looks = np.arange(len(times))
    start = np.maximum(np.minimum(np.minimum(first, looks - 1), len(times) - 3), 0)
    count = np.maximum(last, start + 3) - start
    for size in np.unique(count):
        some = np.flatnonzero(count == size)
        window = start[some, None] + np.arange(size)
        seconds = times[window] - times[window].mean(axis=1, keepdims=True)
        moved = np.einsum("lw,lw...->l...", seconds, points[window])
        squares = (seconds**2).sum(axis=1).reshape(-1, *[1] * (result.ndim - 1))
        result[some] = np.linalg.norm(moved, axis=-1) / squares
    return result


def find_spells(track: Track, metres_per_pixel: FloatArray, hand: str) -> tuple[Spell, ...]:
    """Find the spells in which a player is at rest; with knees bent, the ready positions.

    Landmarks alone do not tell bent knees well (a knee bent by 44 degrees was seen as 8), so knees
    are judged by what a close look measures: `waits`.

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
    at_rest = _at_rest(track, metres_per_pixel, hand)
    rests = np.asarray(at_rest.all(axis=1))
    spells = [Spell(int(a), int(b)) for a, b in _runs(rests)]
    hips = track.pixels[:, [LEFT_HIP, RIGHT_HIP]].mean(axis=1, keepdims=True)
    points = np.concatenate([_feet(track.pixels), hips], axis=1) * np.nanmedian(metres_per_pixel)
    spells, still = _bridged(spells, track.times, points, ~at_rest[:, 3])
    # Two stops of a moment, before and after a stroke in a lunge, are no wait. A microsecond more
    # than the shortest, so that rounding decides nothing.
    rest_s, still_s = (np.cumsum(np.append(0.0, np.diff(track.times) * (some[1:] & some[:-1])))
                       for some in (rests, rests | still))
    return tuple(s for s in spells if still_s[s.end] - still_s[s.start] > SHORTEST + 1e-6
                 and rest_s[s.end] - rest_s[s.start] > _LEAST_REST + 1e-6)


def waits(knee_flexion_deg: FloatArray) -> bool:
    """Whether a player at rest waits, set, rather than stands.

    Parameters
    ----------
    knee_flexion_deg : (2,) degrees, of both legs
    """
    return bool(np.max(knee_flexion_deg) >= _LEAST_KNEE_FLEXION)


def _at_rest(track: Track, metres_per_pixel: FloatArray, hand: str) -> BoolArray:
    """(looks, 4) whether left foot, right foot, hips and racket hand are at rest."""
    pixels = track.pixels
    feet = _feet(pixels)
    hips = pixels[:, [LEFT_HIP, RIGHT_HIP], :].mean(axis=1)
    wrist = _wrists(pixels)[:, side_indices(hand, 0, 1)[0]]
    # The scale of one frame is as noisy as its feet, so it may only multiply differences.
    points = np.stack([feet[:, 0], feet[:, 1], hips, wrist], axis=1)
    moving = speeds(points, track.times) * metres_per_pixel[:, None]
    with np.errstate(invalid="ignore"):
        return np.asarray(moving < (_FOOT_SPEED, _FOOT_SPEED, _HIP_SPEED, _WRIST_SPEED))


@dataclass(frozen=True)
class Motion:
    """How much a player moved between two looks, against the limits of waiting.

    Attributes
    ----------
    largest : of feet, hips and racket hands
    leaving : of hips, racket hands and the foot that moved less: landmarks of one foot tremble, or
        a foot taps, without the player going anywhere
    """

    largest: float
    leaving: float


def motions_between(
    pixels: FloatArray, times: FloatArray, metres_per_pixel: FloatArray, hands: Sequence[str],
) -> list[Motion]:
    """Tell how much a player moved from each look to the next.

    Parameters
    ----------
    pixels : (looks, 33, 2); NaN where the player is not seen
    times : (looks,) seconds
    metres_per_pixel : (looks,) metres
    hands : those that may hold the racket

    Returns
    -------
    list of Motion
        Speeds in the picture's plane over their limits; infinite where one of the two looks does
        not show the player.
    """
    steps = []
    for pairs in (_feet(pixels), _wrists(pixels)):
        step = pairs[1:] - pairs[:-1]
        mixed = _exchanged(pairs)[:, None, None]
        steps.append(np.where(mixed, pairs[1:, ::-1] - pairs[:-1], step))
    feet, wrists = steps
    hips = np.diff(pixels[:, [LEFT_HIP, RIGHT_HIP]].mean(axis=1), axis=0)
    rackets = [wrists[:, side_indices(hand, 0, 1)[0]] for hand in hands]
    limits = (_FOOT_SPEED, _FOOT_SPEED, _HIP_SPEED, *[_WRIST_SPEED] * len(hands))
    moved = np.linalg.norm(np.stack([feet[:, 0], feet[:, 1], hips, *rackets], axis=1), axis=-1)
    shares = moved * (metres_per_pixel[:-1] / np.diff(times))[:, None] / limits
    shares = np.where(np.isnan(shares), np.inf, shares)
    leaving = np.maximum(shares[:, :2].min(axis=1), shares[:, 2:].max(axis=1))
    return [Motion(*both) for both in zip(
        shares.max(axis=1).tolist(), leaving.tolist(), strict=True)]


def _feet(pixels: FloatArray) -> FloatArray:
    """Middles of the left and the right foot, (looks, 2, 2), from (looks, 33, 2) pixels."""
    return np.asarray(pixels[:, FEET, :].reshape(-1, 2, 2, 2).mean(axis=1))


def _wrists(pixels: FloatArray) -> FloatArray:
    """The left and the right wrist from the shoulders' middle, (looks, 2, 2)."""
    shoulders = pixels[:, [LEFT_SHOULDER, RIGHT_SHOULDER], :].mean(axis=1, keepdims=True)
    return np.asarray(pixels[:, [LEFT_WRIST, RIGHT_WRIST], :] - shoulders)


def _exchanged(pairs: FloatArray) -> BoolArray:
    """Tell where left and right change places from a look to the next, (looks - 1,)."""
    kept = np.linalg.norm(pairs[1:] - pairs[:-1], axis=-1).sum(axis=-1)
    turned = np.linalg.norm(pairs[1:] - pairs[:-1, ::-1], axis=-1).sum(axis=-1)
    return np.asarray(turned < _EXCHANGED * kept)


def _unmixed(pairs: FloatArray) -> tuple[BoolArray, FloatArray]:
    """Tell looks in which left and right are mixed up, (looks,), and give the pairs without that.

    Parameters
    ----------
    pairs : (looks, 2, 2) in any unit of length
    """
    mixed = np.cumsum(np.concatenate([[False], _exchanged(pairs)])) % 2 == 1
    if mixed.mean() > 0.5:
        mixed = ~mixed
    return mixed, np.where(mixed[:, None, None], pairs[:, ::-1], pairs)


def unmixed(track: Track) -> Track:
    """Give the feet and the wrists of a track the sides that most looks say.

    With feet in line or hands together the pose model takes left for right in some looks, and a
    player at rest would seem to jump.
    """
    seen = np.flatnonzero(track.seen)
    pixels = track.pixels.copy()
    for pairs, sides in (
            (_feet(pixels[seen]), ((LEFT_HEEL, RIGHT_HEEL), (LEFT_TOE, RIGHT_TOE))),
            (_wrists(pixels[seen]), ((LEFT_WRIST, RIGHT_WRIST),))):
        looks = seen[_unmixed(pairs)[0]] if len(seen) else seen
        for left, right in sides:
            pixels[looks, left], pixels[looks, right] = (
                track.pixels[looks, right], track.pixels[looks, left])
    return replace(track, pixels=pixels)


def without_strays(track: Track) -> Track:
    """Put feet back that were seen elsewhere in a single look among others close in time."""
    seen = np.flatnonzero(track.seen)
    pixels = track.pixels.copy()
    steps, feet = np.diff(track.times[seen]), pixels[seen][:, FEET]
    close = np.maximum(steps[:-1], steps[1:]) <= _NEXT_LOOK
    middle = np.median([feet[:-2], feet[1:-1], feet[2:]], axis=0)
    pixels[seen[1:-1][close, None], FEET] = middle[close]
    return replace(track, pixels=pixels)


def _runs(mask: BoolArray) -> npt.NDArray[np.int_]:
    """(runs, 2) first and last index of each run of True."""
    edges = np.diff(np.concatenate([[False], mask, [False]]).astype(int))
    return np.stack([np.flatnonzero(edges == 1), np.flatnonzero(edges == -1) - 1], axis=-1)


def _bridged(
    spells: list[Spell], times: FloatArray, points: FloatArray, swings: BoolArray,
) -> tuple[list[Spell], BoolArray]:
    """Join spells parted by a short gap over which the feet have kept their place.

    Over a short gap they have kept it too where both would have had to jump under resting hips.
    The gap may be long where neither feet nor hips leave their place in it and the racket does not
    swing: then nothing but the landmarks has moved.

    Parameters
    ----------
    spells : in the order of time
    times : (looks,) seconds
    points : (looks, 3, 2) metres: left foot, right foot, middle of the hips
    swings : (looks,) whether the racket hand is on the move

    Returns
    -------
    Spells; (looks,) whether a look lies in a gap in which nothing but the landmarks has moved
    """
    joined: list[Spell] = []
    unmoved = np.zeros(len(times), bool)
    for spell in spells:
        if joined:
            before = joined[-1]
            gap = times[spell.start] - times[before.end]
            place, next_place = (np.nanmedian(points[s.start:s.end + 1], axis=0)
                                 for s in (before, spell))
            left, right, hips = np.linalg.norm(next_place - place, axis=-1)
            same = max(left, right) < _SAME_FEET or max(min(left, right), hips) < _UNMOVED
            between = slice(before.end + 1, spell.start)
            away = np.linalg.norm(points[between] - (place + next_place) / 2.0, axis=-1)
            in_place = bool((np.mean(~(away < _IN_PLACE), axis=0) <= _ASTRAY).all())
            still = not swings[between].any()
            # Both feet elsewhere in so short a time, the hips in place: seen in wrong places.
            misseen = still and min(left, right) > _SAME_FEET and hips < _IN_PLACE
            unchanged = same and still and in_place
            unmoved[between] = unchanged
            if unchanged or (gap < LONGEST_GAP and (same or misseen)):
                joined[-1] = Spell(before.start, spell.end)
                continue
        joined.append(spell)
    return joined, unmoved
