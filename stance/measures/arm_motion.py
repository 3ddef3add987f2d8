"""How the two arms are held and swung, half a second at a time: evidence of the racket hand.

In a stroke the racket wrist is much the faster one. Between strokes the hand with the racket hangs
lower, its elbow straighter, while the free hand is held up for balance. Each number is the right
arm's less the left arm's, in metres, radians and logarithms of speeds, so a mirrored player gives
the same numbers with the other sign. How much each tells depends on what the player is doing; what
it is worth is learned (`tests/training/arms.py`).
"""

from dataclasses import dataclass

import numpy as np

from stance.court.camera import Camera, viewing_ray
from stance.people.floor import metres_per_pixel
from stance.people.landmarks import (
    HIPS,
    LEFT_ANKLE,
    LEFT_ELBOW,
    LEFT_SHOULDER,
    LEFT_TOE,
    LEFT_WRIST,
    RIGHT_ANKLE,
    RIGHT_ELBOW,
    RIGHT_SHOULDER,
    RIGHT_TOE,
    RIGHT_WRIST,
)
from stance.people.track import Track
from stance.types import FloatArray

WINDOW_S, STEP_S = 0.5, 0.25

DIFFERENCES = (
    "speed against hips, picture",
    "speed against shoulders, space",
    "speed against elbow, picture",
    "mean height",
    "greatest height",
    "least height",
    "mean distance forward",
    "elbow angle",
    "reach",
    "elbow height",
    "shoulder forward",
    "foot forward",
)
"""What is told of each window, right less left."""

CONTEXTS = ("always", "faster wrist", "higher wrist", "feet", "feet apart", "hip height", "lean")
"""What each difference is multiplied by: 1, speed of the faster wrist, height of the higher one,
mean speed of the feet, their distance, height of the hips above the lower ankle, how far the
shoulders are from above the hips."""

_WRISTS, _ELBOWS, _SHOULDERS = (
    [LEFT_WRIST, RIGHT_WRIST],
    [LEFT_ELBOW, RIGHT_ELBOW],
    [LEFT_SHOULDER, RIGHT_SHOULDER],
)
_TOES, _ANKLES = [LEFT_TOE, RIGHT_TOE], [LEFT_ANKLE, RIGHT_ANKLE]

_LEAST_VISIBILITY = 0.1
"""A wrist less visible than this is hidden, and where the model puts it is a guess."""

_SPEED_SPAN_S, _LONGEST_SPAN_S = 0.04, 0.35
"""A speed is that between the observations so long before and after, or the next ones where
observations are rarer, and not known where more lies between both, seconds."""

_SCALE_RANGE = (0.6, 1.6)
"""Against a track's median scale: a foot in the air puts the player elsewhere on the floor."""

_AT_REST_WRIST, _AT_REST_FEET = 1.5, 0.5
"""A window in which the faster wrist and the feet are slower tells nothing, metres a second: who
waits may hold the arms anyhow, and does so for long."""

_LEAST_SPEED = 1.0
"""Added to speeds before their logarithms are compared, metres a second."""

_LEAST_SHARE, _USUAL_RATE, _LEAST_OBSERVATIONS = 0.5, 30.0, 3
"""A window needs this share of the observations it should have, and no fewer than so many."""

_TIME_SLACK_S = 2e-3


@dataclass(frozen=True)
class _Series:
    """What is seen of the body by observation.

    Attributes
    ----------
    speeds
        (3, observations, left and right) metres a second, in the order of `DIFFERENCES`
    places
        (observations, left and right, 7) metres and radians: height of wrists, then what
        `DIFFERENCES` names after the heights
    feet
        (observations, left and right) metres a second
    bearing
        (observations, 3) metres, the last three of `CONTEXTS`
    """

    speeds: FloatArray
    places: FloatArray
    feet: FloatArray
    bearing: FloatArray


def describe_arms(track: Track, camera: Camera) -> FloatArray:
    """Tell how the right arm differs from the left one in each window in which something moves.

    Parameters
    ----------
    track
        one player's poses
    camera
        in the frame of the player's half

    Returns
    -------
    (windows, differences times contexts) each difference of `DIFFERENCES` times each of `CONTEXTS`
    """
    rows: list[FloatArray] = []
    track = _where_wrists_show(track)
    if len(track.times) >= _LEAST_OBSERVATIONS:
        series = _series(track, camera)
        rate = min(_USUAL_RATE, 1.0 / float(np.median(np.diff(track.times))))
        needed = max(_LEAST_OBSERVATIONS, _LEAST_SHARE * WINDOW_S * rate)
        starts = np.arange(track.times[0], track.times[-1] - WINDOW_S / 2, STEP_S)
        firsts, ends = (np.searchsorted(track.times, starts + shift) for shift in (0.0, WINDOW_S))
        for first, end in zip(firsts.tolist(), ends.tolist(), strict=True):
            if end - first >= needed:
                rows += _describe_window(series, first, end)
    return np.array(rows).reshape(-1, len(DIFFERENCES) * len(CONTEXTS))


def _describe_window(series: _Series, first: int, end: int) -> list[FloatArray]:
    """One window's differences times contexts; empty where the player is at rest."""
    fastest = series.speeds[:, first:end].max(axis=1)
    feet = float(series.feet[first:end].mean())
    faster = float(fastest[0].max())
    # A swing towards the camera shows in space alone.
    if fastest[:2].max() < _AT_REST_WRIST and feet < _AT_REST_FEET:
        return []
    places = series.places[first:end]
    heights = places[:, :, 0]
    values = np.concatenate(
        [
            np.log(fastest + _LEAST_SPEED),
            [heights.mean(axis=0), heights.max(axis=0), heights.min(axis=0)],
            places[:, :, 1:].mean(axis=0).T,
        ]
    )
    bearing = series.bearing[first:end].mean(axis=0)
    contexts = [1.0, min(faster, 12.0) / 6.0, float(heights.max()), min(feet, 4.0) / 2.0, *bearing]
    return [np.outer(values[:, 1] - values[:, 0], contexts).ravel()]


def _where_wrists_show(track: Track) -> Track:
    """The track's observations in which both wrists can be seen."""
    wrists = np.nan_to_num(track.visibility[:, _WRISTS]).min(axis=1)
    shown = track.seen & np.asarray(wrists >= _LEAST_VISIBILITY)
    return Track(
        track.frames[shown],
        track.times[shown],
        track.pixels[shown],
        track.visibility[shown],
        track.world[shown],
    )


def _series(track: Track, camera: Camera) -> _Series:
    """Speeds and places by observation."""
    scale = metres_per_pixel(camera, track.pixels)
    usual = float(np.nanmedian(scale))
    low, high = (usual * share for share in _SCALE_RANGE)
    scale = np.clip(np.nan_to_num(scale, nan=usual), low, high)
    flat = track.pixels * scale[:, None, None]
    body = _in_court_frame(track, camera)
    chest = body[:, _SHOULDERS].mean(axis=1, keepdims=True)
    wrists, elbows, shoulders = body[:, _WRISTS], body[:, _ELBOWS], body[:, _SHOULDERS]
    moving = (
        flat[:, _WRISTS] - flat[:, HIPS].mean(axis=1, keepdims=True),
        wrists - chest,
        flat[:, _WRISTS] - flat[:, _ELBOWS],
    )
    places = np.stack(
        [
            (wrists - chest)[..., 2],
            (wrists - chest)[..., 1],
            _angle(shoulders - elbows, wrists - elbows),
            np.linalg.norm(wrists - shoulders, axis=-1),
            (elbows - chest)[..., 2],
            shoulders[..., 1],
            body[:, _ANKLES, 1],
        ],
        axis=-1,
    )
    speeds = np.stack([_speed(points, track.times) for points in moving])
    ankles = body[:, _ANKLES]
    bearing = np.stack(
        [
            np.linalg.norm(ankles[:, 0] - ankles[:, 1], axis=-1),
            -ankles[..., 2].min(axis=1),
            np.linalg.norm(chest[:, 0, :2], axis=-1),
        ],
        axis=-1,
    )
    feet = scale[:, None] * _speed(track.pixels[:, _TOES], track.times)
    return _Series(speeds, places, feet, bearing)


def _in_court_frame(track: Track, camera: Camera) -> FloatArray:
    """World landmarks, which a level camera that looks straight at the player sees, along x, y, z.

    (observations, 33, 3) metres from the middle of the hips: right of who faces the net, towards
    it, up.
    """
    away = viewing_ray(camera, track.pixels[:, HIPS].mean(axis=1))
    right = np.cross(away, (0.0, 0.0, 1.0))
    right = right / np.linalg.norm(right, axis=1, keepdims=True)
    axes = np.stack([right, np.cross(away, right), away], axis=1)
    return np.asarray(track.world @ axes)


def _angle(first: FloatArray, second: FloatArray) -> FloatArray:
    """Angle between vectors, radians."""
    lengths = np.linalg.norm(first, axis=-1) * np.linalg.norm(second, axis=-1)
    cosine = (first * second).sum(axis=-1) / np.maximum(lengths, 1e-9)
    return np.asarray(np.arccos(np.clip(cosine, -1.0, 1.0)))


def _speed(points: FloatArray, times: FloatArray) -> FloatArray:
    """Speed of points (observations, n, axes), metres a second; 0 where it is not known."""
    numbers = np.arange(len(times))
    span = _SPEED_SPAN_S + _TIME_SLACK_S
    before = np.minimum(np.searchsorted(times, times - span), np.maximum(numbers - 1, 0))
    after = np.maximum(
        np.searchsorted(times, times + span) - 1, np.minimum(numbers + 1, len(times) - 1)
    )
    step = times[after] - times[before]
    known = (step > 0.0) & (step < _LONGEST_SPAN_S)
    way = np.linalg.norm(points[after] - points[before], axis=-1)
    return np.where(known[:, None], way / np.where(known, step, 1.0)[:, None], 0.0)
