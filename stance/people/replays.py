"""Slow-motion replays in a clip: a player who does again, slower, what they did before.

Nobody repeats a motion to within centimetres, at the same place and slower all along; a replay cut
into a clip does. One from another camera shows another view, and is left out as such
(`camera_motion.segments`).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from stance.people.track import Track
from stance.types import FloatArray

SAME_POSE = 0.05
"""Root mean square distance of the landmarks of one pose from another's, in heights of the body,
below which they may be the same picture's: the pose model's noise on a picture that was coded
anew, and what a limb moves off the straight line between two observations."""

WINDOW_S = 2.5
"""So long, at least, a replay is told by."""

LEAST_SEEN = 6
"""Observations in this time, at least."""

LEAST_SAME = 0.8
"""Share of a window's poses that must be found before it."""

LEAST_MOTION = 0.1
"""How far a window's poses are from their mean at most, in heights of the body: twice what may be
the same pose. Who hardly moves is always the same, however long one watches."""

SPEEDS = (0.08, 0.8)
"""A replay in slow motion runs at this part of the first speed."""

MOST_OFF_S = 0.1
"""Median distance of times from one speed all along, seconds of the first showing."""

STEP_S = 0.12
"""Observations that are compared are no nearer to each other: more would tell no more."""

LONGEST_REST_S = 4.0
"""Windows of one replay are no farther apart: in between the player rests."""

_CHUNK = 256


@dataclass(frozen=True)
class Replay:
    """A part of the clip that shows again what an earlier one showed, in seconds of the clip."""

    start_s: float
    end_s: float
    first_start_s: float
    first_end_s: float

    @property
    def slower(self) -> float:
        """How many times slower it is."""
        return (self.end_s - self.start_s) / (self.first_end_s - self.first_start_s)


def find_replays(tracks: Sequence[Track]) -> tuple[Replay, ...]:
    """Find where a clip shows again, slower, what a player did before.

    Parameters
    ----------
    tracks
        of the players of a clip

    Returns
    -------
    In order; those that several players show are joined
    """
    found = sorted(
        (replay for track in tracks for replay in _replays_of(track)), key=lambda r: r.start_s
    )
    joined: list[Replay] = []
    for replay in found:
        if joined and replay.start_s <= joined[-1].end_s:
            replay = _join(joined.pop(), replay)
        joined.append(replay)
    return tuple(joined)


def _replays_of(track: Track) -> list[Replay]:
    """Find the replays that one player shows."""
    seen = np.flatnonzero(track.seen)
    # The first observation of each step of time.
    steps = np.floor(track.times[seen] / STEP_S)
    seen = seen[np.diff(steps, prepend=-1.0) > 0]
    times, pixels = track.times[seen], track.pixels[seen]
    if len(times) < 2 * LEAST_SEEN:
        return []
    height = float(np.median(np.ptp(pixels[..., 1], axis=1)))
    # In single precision, since ten minutes have millions of pairs.
    poses = (pixels / (height * np.sqrt(pixels.shape[1]))).reshape(len(pixels), -1)
    poses = poses.astype(np.float32)
    away, before_s = _match_earlier(times, poses)
    replays: list[Replay] = []
    for first in range(len(times)):
        last = int(np.searchsorted(times, times[first] + WINDOW_S, side="right"))
        window = np.arange(first, last)
        if len(window) < LEAST_SEEN or _moved(poses[window]) < LEAST_MOTION:
            continue
        replay = _replay_in(times[window], before_s[window], away[window] < SAME_POSE)
        if replay is None:
            continue
        if replays and _goes_on(replays[-1], replay):
            replay = _join(replays.pop(), replay)
        replays.append(replay)
    return replays


def _moved(poses: FloatArray) -> float:
    """How far one of the poses is from their mean."""
    return float(np.linalg.norm(poses - poses.mean(axis=0), axis=1).max())


def _match_earlier(times: FloatArray, poses: FloatArray) -> tuple[FloatArray, FloatArray]:
    """How far each pose is from the nearest one before a window's time ago, and when that was.

    Between two observations a pose is on the straight line.

    Parameters
    ----------
    times
        (observations,) seconds
    poses
        (observations, n)

    Returns
    -------
    away, before_s
        (observations,); infinite and NaN where there is nothing before
    """
    squared = np.sum(poses**2, axis=1)
    away, before_s = np.full(len(times), np.inf), np.full(len(times), np.nan)
    for start in range(0, len(times), _CHUNK):
        some = np.arange(start, min(start + _CHUNK, len(times)))
        early = int(np.searchsorted(times, times[some[-1]] - WINDOW_S, side="right"))
        if early < 2:
            continue
        distance = squared[:early] - 2 * poses[some] @ poses[:early].T
        distance[times[:early] > times[some, None] - WINDOW_S] = np.inf
        nearest = distance.argmin(axis=1)
        known = np.isfinite(distance.min(axis=1))
        for first in (np.maximum(nearest - 1, 0), np.minimum(nearest, early - 2)):
            off, share = _off_line(poses[some], poses[first], poses[first + 1])
            better = known & (off < away[some])
            away[some[better]] = off[better]
            then = times[first] + share * (times[first + 1] - times[first])
            before_s[some[better]] = then[better]
    return away, before_s


def _off_line(points: FloatArray, one: FloatArray, other: FloatArray) -> tuple[FloatArray, ...]:
    """How far points (m, n) are from the line between two others, and how far along it that is."""
    step = other - one
    share = np.sum((points - one) * step, axis=1) / np.maximum(np.sum(step**2, axis=1), 1e-12)
    share = np.clip(share, 0.0, 1.0)
    return np.linalg.norm(points - one - share[:, None] * step, axis=1), share


def _replay_in(
    times: FloatArray, before_s: FloatArray, same: npt.NDArray[np.bool_]
) -> Replay | None:
    """The replay that a window is, where its poses were seen before and at one slower speed."""
    if same.mean() < LEAST_SAME or same.sum() < LEAST_SEEN:
        return None
    speed, offset = np.polyfit(times[same], before_s[same], 1)
    off = np.median(np.abs(before_s[same] - speed * times[same] - offset))
    if not SPEEDS[0] <= speed <= SPEEDS[1] or off > MOST_OFF_S:
        return None
    first, last = float(times[same][0]), float(times[same][-1])
    return Replay(first, last, float(speed * first + offset), float(speed * last + offset))


def _goes_on(before: Replay, after: Replay) -> bool:
    """Whether a window goes on with what the one before began."""
    near = after.start_s <= before.end_s + LONGEST_REST_S
    return near and after.first_end_s >= before.first_end_s - MOST_OFF_S


def _join(one: Replay, other: Replay) -> Replay:
    """Both as one."""
    return Replay(
        min(one.start_s, other.start_s),
        max(one.end_s, other.end_s),
        min(one.first_start_s, other.first_start_s),
        max(one.first_end_s, other.first_end_s),
    )
