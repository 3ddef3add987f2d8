"""The frames in between are observed where rest and motion meet, and nowhere else."""

from collections.abc import Callable, Sequence

import numpy as np

from stance.people.player_state import Player
from stance.watching.dense_observation import observe_transition
from stance.watching.frame_buffer import FrameBuffer
from stance.watching.trackers import TrackedPlayer
from tests.unit.figures import behind_camera
from tests.unit.watching.made_players import PlainFrame, made_player, observation_at, plain_frame

CAMERA = behind_camera()
STEP = 4
Place = Callable[[int], float]


class TrueTracker:
    """Stands for the tracker: sees the player where they truly are."""

    def __init__(self, metres_right: Place) -> None:
        self._metres_right = metres_right
        self.observed: list[int] = []

    def observe_between(self, player: Player, first: int, frames: Sequence[PlainFrame]) -> None:
        for frame in frames:
            self.observed.append(frame.index)
            place = (self._metres_right(frame.index), -4.0)
            player.insert(frame, observation_at(CAMERA, place, frame.index))


def observed(metres_right: Place, apart: bool = True) -> tuple[list[int], list[tuple[int, int]]]:
    """Frames observed in between, and what was added, for four tracking observations."""
    buffer = FrameBuffer(30 / STEP, 30.0)
    for index in range(3 * STEP + 1):
        buffer.add(plain_frame(index))
    player = made_player(CAMERA, [])
    tracking = [0, STEP, 2 * STEP, 3 * STEP]
    for index in tracking:
        place = (metres_right(index), -4.0)
        player.append(plain_frame(index), observation_at(CAMERA, place, index))
    tracker = TrueTracker(metres_right)
    tracked = TrackedPlayer(tracker, player, CAMERA, ("right", "left"))
    added = observe_transition(tracked, tracking, buffer, apart)
    for number, frame in added:
        assert player.frames[number] == frame.index
    return tracker.observed, [(number, frame.index) for number, frame in added]


def runs(index: int) -> float:
    return 0.1 * index


def stops_at_six(index: int) -> float:
    return float(np.minimum(0.1 * index, 0.6))


def test_nothing_is_observed_between_where_a_player_runs_on_or_rests_on() -> None:
    assert observed(runs) == ([], [])
    assert observed(lambda index: 0.0) == ([], [])


def test_where_a_player_settles_the_step_before_the_last_is_halved() -> None:
    frames, added = observed(stops_at_six)
    # From the middle on to where rest and motion meet.
    assert frames[0] == 6 and set(frames) <= {5, 6, 7}
    assert [frame for _, frame in added] == sorted(frames)
    assert [number for number, _ in added] == list(range(2, 2 + len(added)))


def test_with_somebody_near_all_frames_of_the_step_are_observed() -> None:
    assert observed(stops_at_six, apart=False)[0] == [5, 6, 7]
