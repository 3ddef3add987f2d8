"""The racket hand of stick figures who swing, and of pictures that show it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stance.court.camera import Camera, turned_180
from stance.measures.handedness import SURE, estimate_racket_hand, find_side_swaps
from stance.people.landmarks import LANDMARKS, LEFT_WRIST, MIRRORED, RIGHT_WRIST
from stance.people.track import Track
from tests.unit.figures import behind_camera, figure, track_of


def swings() -> np.ndarray:
    """How far a wrist is swung in three seconds of frames, metres."""
    return 0.4 * np.sin(np.arange(90) / 3.0)


# Across the picture, or towards the camera and away.
@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize(("wrist", "hand"), [(LEFT_WRIST, "left"), (RIGHT_WRIST, "right")])
def test_the_hand_that_swings_is_the_racket_hand_if_pictures_do_not_say_otherwise(
    wrist: int, hand: str, axis: int
) -> None:
    joints = np.stack([figure((0.0, -4.0))] * 90)
    joints[:, wrist, axis] += swings()
    track = track_of(behind_camera(), joints, 30.0)
    sign = 1.0 if hand == "right" else -1.0
    odds = dict.fromkeys(range(0, 90, 15), 0.5 * sign)
    seen, confidence = estimate_racket_hand(track, odds, behind_camera())
    assert seen == hand
    still = track_of(behind_camera(), joints[:1], 30.0)
    assert confidence > estimate_racket_hand(still, odds, behind_camera())[1]


@pytest.mark.parametrize(("wrist", "hand"), [(LEFT_WRIST, "left"), (RIGHT_WRIST, "right")])
def test_swings_alone_make_the_hand_sure(wrist: int, hand: str) -> None:
    joints = np.stack([figure((0.0, -4.0))] * 180)
    joints[:, wrist, 2] += np.tile(swings(), 2)
    seen, confidence = estimate_racket_hand(
        track_of(behind_camera(), joints, 30.0), {}, behind_camera()
    )
    assert seen == hand
    assert SURE <= confidence < 0.99


@given(
    seed=st.integers(0, 1000),
    odds=st.lists(st.floats(-6.0, 6.0), min_size=1, max_size=6),
    forward=st.booleans(),
)
def test_a_mirrored_player_has_the_other_hand_as_surely(
    seed: int, odds: list[float], forward: bool
) -> None:
    camera = behind_camera() if forward else turned_180(behind_camera())
    rng = np.random.default_rng(seed)
    joints = np.stack([figure((0.4, -4.0))] * 60) + rng.normal(0, 0.1, (60, LANDMARKS, 3))
    mirrored = joints[:, MIRRORED] * (-1.0, 1.0, 1.0)
    shows = {10 * number: value for number, value in enumerate(odds)}
    hidden = {frame: -value for frame, value in shows.items()}
    seen = estimate_racket_hand(track_of(camera, joints, 30.0), shows, camera)
    other = estimate_racket_hand(track_of(camera, mirrored, 30.0), hidden, camera)
    assert other[1] == pytest.approx(seen[1], abs=1e-9)
    assert seen[1] == 0.5 or {seen[0], other[0]} == {"left", "right"}


def test_without_anything_seen_right_is_taken_and_not_sure() -> None:
    seen, confidence = estimate_racket_hand(
        track_of(behind_camera(), np.stack([figure((0.0, -4.0))] * 90), 30.0), {}, behind_camera()
    )
    assert seen == "right"
    assert confidence < SURE


def test_hands_that_move_alike_leave_it_unsure() -> None:
    joints = np.stack([figure((0.0, -4.0))] * 90)
    joints[:, [LEFT_WRIST, RIGHT_WRIST], 0] += swings()[:, None]
    assert (
        estimate_racket_hand(track_of(behind_camera(), joints, 30.0), {}, behind_camera())[1] < SURE
    )


def test_a_hidden_wrist_that_jumps_about_is_not_a_swing() -> None:
    joints = np.stack([figure((0.0, -4.0))] * 90)
    joints[:, RIGHT_WRIST, 0] += swings()
    joints[45:, LEFT_WRIST] += np.random.default_rng(1).normal(0, 0.2, (45, 3))
    track = track_of(behind_camera(), joints, 30.0)
    track.visibility[45:, LEFT_WRIST] = 0.05
    jumps = estimate_racket_hand(track, {}, behind_camera())
    assert jumps[0] == "right"
    assert jumps[1] == pytest.approx(
        estimate_racket_hand(track_of(behind_camera(), joints[:45], 30.0), {}, behind_camera())[1],
        abs=0.03,
    )


def test_a_hand_that_is_never_seen_leaves_it_unsure() -> None:
    joints = np.stack([figure((0.0, -4.0))] * 90)
    joints[:, RIGHT_WRIST, 0] += swings()
    track = track_of(behind_camera(), joints, 30.0)
    track.visibility[:, LEFT_WRIST] = 0.05
    assert estimate_racket_hand(track, {}, behind_camera())[1] < SURE


def shown(odds: list[float]) -> dict[int, float]:
    """What close looks a second apart show."""
    return {30 * number: value for number, value in enumerate(odds)}


@pytest.mark.parametrize(("sign", "hand"), [(1.0, "right"), (-1.0, "left")])
def test_pictures_that_show_the_racket_tell_the_hand_of_a_player_who_does_not_swing(
    sign: float, hand: str
) -> None:
    track = track_of(behind_camera(), np.stack([figure((0.0, -4.0))] * 240), 30.0)
    odds = [2.5, 1.5, 3.0, 2.0, 0.7, 2.2, 2.8]
    seen, confidence = estimate_racket_hand(
        track, shown([sign * value for value in odds]), behind_camera()
    )
    assert seen == hand
    assert confidence >= SURE


def test_pictures_that_show_now_this_now_the_other_hand_leave_it_unsure() -> None:
    track = track_of(behind_camera(), np.stack([figure((0.0, -4.0))] * 240), 30.0)
    assert (
        estimate_racket_hand(track, shown([2.0, -2.0, 1.5, -1.0, 0.5, -0.6]), behind_camera())[1]
        < SURE
    )


def test_many_pictures_of_one_moment_count_as_one() -> None:
    track = track_of(behind_camera(), np.stack([figure((0.0, -4.0))] * 240), 30.0)
    assert estimate_racket_hand(track, dict.fromkeys(range(60, 75), 2.0), behind_camera())[1] < SURE


def test_pictures_that_hardly_favour_a_hand_are_not_believed() -> None:
    track = track_of(behind_camera(), np.stack([figure((0.0, -4.0))] * 240), 30.0)
    odds = shown([1.0, 0.5, 1.5, -0.6, -0.3, 1.2, 0.8])
    assert estimate_racket_hand(track, odds, behind_camera())[1] == 0.5


def test_arms_and_pictures_that_disagree_leave_it_unsure() -> None:
    joints = np.stack([figure((0.0, -4.0))] * 180)
    joints[:, LEFT_WRIST, 2] += np.tile(swings(), 2)
    track = track_of(behind_camera(), joints, 30.0)
    right = {30 * number: value for number, value in enumerate([2.5, 1.5, 3.0, 2.0, 2.2, 2.8])}
    arms = estimate_racket_hand(track, {}, behind_camera())
    assert arms[0] == "left"
    assert estimate_racket_hand(track, right, behind_camera())[1] < min(SURE, arms[1])


def seen_from(camera: Camera, frames: int) -> Track:
    """A player who faces the net, of whom the model takes left for right in every second look."""
    track = track_of(camera, np.stack([figure((0.3, -4.0))] * frames), 30.0)
    track.pixels[::2] = track.pixels[::2][:, MIRRORED]
    return track


@given(height=st.floats(1.0, 3.5), back=st.floats(8.0, 12.0))
def test_from_in_front_it_is_seen_which_looks_take_left_for_right(
    height: float, back: float
) -> None:
    beyond_the_net = turned_180(behind_camera(height, back))
    mixed = find_side_swaps(seen_from(beyond_the_net, 6), beyond_the_net)
    assert mixed.tolist() == [True, False] * 3


def test_from_behind_a_player_may_have_turned_round() -> None:
    assert not find_side_swaps(seen_from(behind_camera(), 6), behind_camera()).any()


def test_pictures_in_which_left_is_taken_for_right_do_not_count() -> None:
    camera = turned_180(behind_camera())
    track = seen_from(camera, 240)
    right = dict.fromkeys(range(1, 240, 30), 1.5)
    assert estimate_racket_hand(
        track, right | dict.fromkeys(range(0, 240, 30), -5.0), camera
    ) == estimate_racket_hand(track, right, camera)
