"""How a player moves, as numbers that a stroke and the wait for one can be told from.

In metres and seconds, so that they depend neither on the frame rate nor on how large the player is
in the picture; nothing tells left from right, so a mirrored player gives the same.
"""

import numpy as np

from stance.court.camera import Camera, floor_point, project
from stance.people.landmarks import (
    HIPS,
    LEFT_ANKLE,
    LEFT_ELBOW,
    LEFT_HEEL,
    LEFT_HIP,
    LEFT_KNEE,
    LEFT_SHOULDER,
    LEFT_TOE,
    LEFT_WRIST,
    RIGHT_ANKLE,
    RIGHT_ELBOW,
    RIGHT_HEEL,
    RIGHT_HIP,
    RIGHT_KNEE,
    RIGHT_SHOULDER,
    RIGHT_TOE,
    RIGHT_WRIST,
)
from stance.people.track import Track
from stance.types import FloatArray

RATE = 25.0
"""Moments a second at which motion is told: two in five hundredths of a second, about what the
contact can be told to."""

WRIST_HEIGHT, HIP_SPEED = 2, 17
"""Which of the numbers are the faster wrist's height over the shoulders, metres, and the hips'
speed, metres a second."""

_KERNEL_S = 0.07
"""Observations count for a moment the less the further away they are, up to so far, seconds."""

_LONGEST_GAP_S = 0.25
"""Moments further from any observation are unknown, seconds."""

_PLACE_S = 0.28
"""Where a player is on the floor is averaged over so long: one foot's place in the air is wrong by
half a metre, seconds."""

_SHOULDERS, _WRISTS = [LEFT_SHOULDER, RIGHT_SHOULDER], [LEFT_WRIST, RIGHT_WRIST]
_ARMS = ((LEFT_SHOULDER, LEFT_ELBOW, LEFT_WRIST), (RIGHT_SHOULDER, RIGHT_ELBOW, RIGHT_WRIST))
_LEGS = ((LEFT_HIP, LEFT_KNEE, LEFT_ANKLE), (RIGHT_HIP, RIGHT_KNEE, RIGHT_ANKLE))


def moments(start_s: float, end_s: float) -> FloatArray:
    """The moments at which motion is told, (moments,) seconds, `RATE` a second."""
    return np.arange(start_s, end_s + 1e-6, 1.0 / RATE)


def describe_motion(track: Track, camera: Camera, times: FloatArray) -> FloatArray:
    """Describe how a player moves.

    Parameters
    ----------
    track
        the player's poses
    camera
        in the frame of the player's half
    times
        (moments,) seconds, as `moments` gives them

    Returns
    -------
    (moments, numbers): speeds and heights of wrists, hips and feet, bends of arms and legs, the
    place on the half, in metres, seconds and degrees; NaN where the player is not seen
    """
    pixels = _resample(track.times, track.pixels, times)
    world = _resample(track.times, track.world, times)
    feet = (
        pixels[:, [LEFT_HEEL, RIGHT_HEEL]] + pixels[:, [LEFT_TOE, RIGHT_TOE]]
    ) / 2.0  # (moments, 2, 2)
    middle = feet.mean(axis=1)
    base = _average(floor_point(camera, middle)[:, :2])
    foot_of_base = np.column_stack([base, np.zeros(len(base))])
    # A metre upwards, in pixels, at the player's place.
    up = project(camera, foot_of_base + (0.0, 0.0, 1.0)) - project(camera, foot_of_base)
    scale = np.linalg.norm(up, axis=1)
    up = up / scale[:, None] ** 2
    shoulders, hips = pixels[:, _SHOULDERS].mean(axis=1), pixels[:, HIPS].mean(axis=1)
    base_speed = _rate_of_change(base)
    return np.column_stack(
        [
            _describe_arms(pixels[:, _WRISTS] - shoulders[:, None], up, scale),
            _describe_arms_in_space(world),
            _describe_trunk(hips - middle, shoulders - hips, up, scale),
            ((_rate_of_change(hips) * up).sum(axis=1)),
            np.linalg.norm(_rate_of_change(hips), axis=1) / scale,
            _describe_feet(feet, up, scale),
            _apart_on_floor(camera, feet),
            np.abs(base_speed[:, 0]),
            base_speed[:, 1],
            base[:, 1],
            np.abs(base[:, 0]),
        ]
    )


def _describe_arms(wrists: FloatArray, up: FloatArray, scale: FloatArray) -> FloatArray:
    """Speeds and heights of the wrists, (moments, 2, 2) pixels from the shoulders."""
    velocity = _rate_of_change(wrists)
    speed = np.linalg.norm(velocity, axis=-1) / scale[:, None]
    fast = np.argmax(np.nan_to_num(speed), axis=1)
    rows = np.arange(len(fast))
    height = (wrists * up[:, None]).sum(axis=-1)
    rising = (velocity * up[:, None]).sum(axis=-1)
    reach = np.linalg.norm(wrists, axis=-1) / scale[:, None]
    return np.column_stack(
        [
            speed.max(axis=1),
            speed.min(axis=1),
            height[rows, fast],
            height[rows, 1 - fast],
            rising[rows, fast],
            reach[rows, fast],
        ]
    )


def _describe_arms_in_space(world: FloatArray) -> FloatArray:
    """Speeds of the wrists against the shoulders in space, and bends of the joints."""
    wrists = world[:, _WRISTS] - world[:, _SHOULDERS].mean(axis=1, keepdims=True)
    speed = np.linalg.norm(_rate_of_change(wrists), axis=-1)
    elbows = np.column_stack([_joint_angle(world, *arm) for arm in _ARMS])
    knees = np.column_stack([_joint_angle(world, *leg) for leg in _LEGS])
    return np.column_stack(
        [
            speed.max(axis=1),
            speed.min(axis=1),
            elbows.max(axis=1),
            elbows.min(axis=1),
            knees.min(axis=1),
            knees.max(axis=1),
        ]
    )


def _describe_trunk(
    hips: FloatArray, shoulders: FloatArray, up: FloatArray, scale: FloatArray
) -> FloatArray:
    """Height of the hips over the feet, how it changes, and how the trunk leans."""
    height = (hips * up).sum(axis=1)
    return np.column_stack(
        [
            height,
            _rate_of_change(height),
            (shoulders * up).sum(axis=1),
            np.abs(shoulders[:, 0]) / scale,
        ]
    )


def _describe_feet(feet: FloatArray, up: FloatArray, scale: FloatArray) -> FloatArray:
    """Speeds of the feet in the picture, (moments, 2, 2) pixels, and how they spread."""
    velocity = _rate_of_change(feet)
    speed = np.linalg.norm(velocity, axis=-1) / scale[:, None]
    rising = (velocity * up[:, None]).sum(axis=-1)
    apart = np.linalg.norm(feet[:, 0] - feet[:, 1], axis=-1) / scale
    return np.column_stack(
        [
            speed.min(axis=1),
            speed.max(axis=1),
            rising.min(axis=1),
            rising.max(axis=1),
            _rate_of_change(apart),
        ]
    )


def _apart_on_floor(camera: Camera, feet: FloatArray) -> FloatArray:
    """How far the feet are apart on the floor, (moments,) metres."""
    places = floor_point(camera, feet)[..., :2]
    return np.asarray(np.linalg.norm(places[:, 0] - places[:, 1], axis=1))


def _joint_angle(world: FloatArray, first: int, joint: int, last: int) -> FloatArray:
    """Angle at a joint between its two neighbours, (moments,) degrees."""
    one = np.asarray(world[:, first] - world[:, joint])
    other = np.asarray(world[:, last] - world[:, joint])
    lengths = np.linalg.norm(one, axis=1) * np.linalg.norm(other, axis=1)
    cosine = (one * other).sum(axis=1) / lengths
    return np.asarray(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def _resample(seen_at: FloatArray, values: FloatArray, times: FloatArray) -> FloatArray:
    """Values at other times: averages of the observations near each, NaN far from any."""
    known = np.asarray(np.isfinite(values.reshape(len(values), -1)).all(axis=1))
    result = np.full((len(times), *values.shape[1:]), np.nan)
    if known.sum() < 2:
        return result
    seen_at, flat = seen_at[known], values[known].reshape(int(known.sum()), -1)
    after = np.clip(np.searchsorted(seen_at, times), 1, len(seen_at) - 1)
    nearest = np.minimum(np.abs(seen_at[after] - times), np.abs(seen_at[after - 1] - times))
    near = np.flatnonzero(nearest <= _LONGEST_GAP_S)
    step = seen_at[after] - seen_at[after - 1]
    share = np.clip((times - seen_at[after - 1]) / step, 0.0, 1.0)[near, None]
    resampled = flat[after[near] - 1] + share * (flat[after[near]] - flat[after[near] - 1])
    first = np.searchsorted(seen_at, times[near] - _KERNEL_S).tolist()
    last = np.searchsorted(seen_at, times[near] + _KERNEL_S).tolist()
    for row in range(len(near)):
        window = slice(first[row], last[row])
        weights = 1.0 - np.abs(seen_at[window] - times[near[row]]) / _KERNEL_S
        if weights.sum() > 0.2:
            resampled[row] = weights @ flat[window] / weights.sum()
    result[near] = resampled.reshape(len(near), *values.shape[1:])
    return result


def _rate_of_change(values: FloatArray) -> FloatArray:
    """Change a second, from the moment before to the moment after; NaN at the ends."""
    result = np.full_like(values, np.nan)
    result[1:-1] = (values[2:] - values[:-2]) * (RATE / 2.0)
    return result


def _average(places: FloatArray) -> FloatArray:
    """Averages of places, (moments, 2), over `_PLACE_S`; NaN where the place is not known."""
    window = np.ones(round(_PLACE_S * RATE))
    known = np.asarray(np.isfinite(places).all(axis=1))
    if len(places) < len(window):
        return places
    count = np.convolve(known.astype(float), window, "same")
    averages = (
        np.column_stack(
            [np.convolve(np.where(known, places[:, axis], 0.0), window, "same") for axis in (0, 1)]
        )
        / np.maximum(count, 1.0)[:, None]
    )
    return np.asarray(np.where(known[:, None], averages, np.nan))
