"""Observations of the frames in between, where a player settles or leaves.

While players are tracked they are observed a few times a second. When a waiting spell starts and
ends is told to a frame only where the frames between two of these observations are observed too.
"""

from collections.abc import Sequence

import numpy as np

from stance.people.player_state import Player
from stance.people.resting import note_rest
from stance.video.frame import Frame
from stance.watching.frame_buffer import FrameBuffer
from stance.watching.trackers import TrackedPlayer

# The last observations made while tracking are among so many, with those in between.
_LATEST = 60

# A motion below its limits is rest; up to so many times as much, rest may lie in between.
_REST, _NEARLY_REST = 1.0, 2.0


def observe_transition(
    tracked: TrackedPlayer,
    tracking_frames: Sequence[int],
    buffer: FrameBuffer,
    apart: bool,
) -> list[tuple[int, Frame]]:
    """Observe the frames between the last tracking observations but one, where it matters when.

    Parameters
    ----------
    tracked
        the player; their observations are added to
    tracking_frames
        numbers of the last frames that were observed while tracking
    buffer
        the latest frames
    apart
        whether the players are apart; with somebody else near all frames are observed

    Returns
    -------
    Number among the player's observations, and frame, of those that were added
    """
    player = tracked.player
    numbers = _numbers_of(player, tracking_frames)
    if len(numbers) < 3 or any(player.poses[number] is None for number in numbers[-3:-1]):
        return []
    # The oldest step is not known right after the start.
    moved = [motion.largest for motion in tracked.motions(numbers)]
    before, this, after = (np.inf, *moved)[-3:]
    first = numbers[-3]
    if not _may_settle_or_leave(before, this, after) or numbers[-2] != first + 1:
        return []
    frames = buffer.between(player.frames[first], player.frames[first + 1])
    if player.frames[first] not in frames:  # The clip was cut in between.
        return []
    known = len(player.poses)
    # Poses of a player at rest differ a little; a step between them would look like a motion.
    if not note_rest(player, first, list(frames.values())):
        between = list(frames.values())[1:-1]
        if apart:
            _observe_halves(tracked, first, between, before, after)
        else:
            # Who is who is told better the more observations there are.
            tracked.tracker.observe_between(player, first, between)
    added = range(first + 1, first + 1 + len(player.poses) - known)
    return [(number, frames[player.frames[number]]) for number in added]


def _numbers_of(player: Player, frames: Sequence[int]) -> list[int]:
    """Numbers of a player's observations in some of the latest frames."""
    latest = player.frames[-_LATEST:]
    earlier = len(player.frames) - len(latest)
    return [earlier + latest.index(frame) for frame in frames if frame in latest]


def _may_settle_or_leave(before: float, this: float, after: float) -> bool:
    """Whether rest and motion may meet in a step, by how much is moved in it and beside it."""
    rests = this < _REST
    return rests != (before < _REST) or rests != (after < _REST) or _REST <= this < _NEARLY_REST


def _observe_halves(
    tracked: TrackedPlayer,
    first: int,
    frames: Sequence[Frame],
    before: float,
    after: float,
) -> None:
    """Observe the middle one of some frames, and on where rest and motion meet.

    Parameters
    ----------
    tracked
        the player
    first
        number of the observation before the frames
    frames
        between that observation and the next, in the clip's order
    before, after
        how much the player moved in the steps before and after these two observations
    """
    if not frames:
        return
    middle, known = len(frames) // 2, len(tracked.player.poses)
    tracked.tracker.observe_between(tracked.player, first, frames[middle : middle + 1])
    if len(tracked.player.poses) == known:
        return
    one, two = (motion.largest for motion in tracked.motions(range(first, first + 3)))
    if two >= _REST > min(one, after):
        _observe_halves(tracked, first + 1, frames[middle + 1 :], one, after)
    if one >= _REST > min(before, two):
        _observe_halves(tracked, first, frames[:middle], before, two)
