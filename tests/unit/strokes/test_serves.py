"""A serve opens a rally, from a stand and from below; feeds are none."""

import numpy as np
import pytest

from stance.court.camera import Camera
from stance.people.landmarks import RIGHT_ELBOW, RIGHT_WRIST
from stance.strokes.motion import describe_motion, moments
from stance.strokes.serves import find_serves, stands_and_strikes_low
from tests.unit.figures import behind_camera, figure, track_of

CAMERA: Camera = behind_camera()
CONTACT_S = 2.0
RALLY_S = [0.0, 1.2, 2.4, 3.6, 4.8]


def strikes_low(rise_m: float, run_m_s: float = 0.0, seen: bool = True) -> bool:
    """Of a player whose right hand goes up to so far over where it hangs, at the contact.

    They run at a speed until the contact.
    """
    times = np.arange(0.0, 4.0, 1.0 / 30.0)
    joints = np.stack(
        [figure((-1.0 + run_m_s * min(time_s, CONTACT_S), -4.0)) for time_s in times.tolist()]
    )
    near = np.cos(np.pi * np.clip((times - CONTACT_S) / 0.6, -0.5, 0.5)) ** 2
    joints[:, RIGHT_WRIST, 2] += rise_m * near
    joints[:, RIGHT_ELBOW, 2] += rise_m / 2.0 * near
    track = track_of(CAMERA, joints, 30.0)
    if not seen:
        track.pixels[:] = np.nan
    grid = moments(0.0, 3.9)
    return stands_and_strikes_low(describe_motion(track, CAMERA, grid), grid, CONTACT_S)


def test_who_stands_and_strikes_below_the_shoulders_may_serve() -> None:
    # The hand hangs 0.15 m below the shoulders.
    assert strikes_low(0.1)


def test_who_strikes_overhead_runs_or_is_not_seen_does_not_serve() -> None:
    assert not strikes_low(0.9)
    assert not strikes_low(0.1, run_m_s=2.0)
    assert not strikes_low(0.1, seen=False)


def test_only_the_first_stroke_of_each_rally_can_be_a_serve() -> None:
    times_s = np.array([*RALLY_S, *(time_s + 20.0 for time_s in RALLY_S)])
    sides = [number % 2 for number in range(len(times_s))]
    serves = find_serves(times_s, sides, [True] * len(times_s))
    assert np.flatnonzero(serves).tolist() == [0, len(RALLY_S)]


def test_a_rally_that_opens_with_a_smash_was_not_seen_from_its_serve() -> None:
    opens_low = [False, True, True, True, True]
    assert not find_serves(np.array(RALLY_S), [0, 1, 0, 1, 0], opens_low).any()


@pytest.mark.parametrize("answered", [True, False])
def test_feeds_at_a_slow_pace_are_no_serves(answered: bool) -> None:
    feeds_s = [3.0 * number for number in range(6)]
    strokes = [(time_s, 0) for time_s in feeds_s]
    strokes += [(time_s + 1.2, 1) for time_s in feeds_s] if answered else []
    strokes.sort()
    times_s, sides = np.array([s[0] for s in strokes]), [s[1] for s in strokes]
    assert not find_serves(times_s, sides, [True] * len(strokes)).any()


def test_without_strokes_there_are_no_serves() -> None:
    assert find_serves(np.empty(0), [], []).shape == (0,)
