"""The racket hand of stick figures who swing."""

import numpy as np
import pytest

from stance.body import metres_per_pixel
from stance.hands import SURE, seen_hand
from stance.poses import LEFT_WRIST, RIGHT_WRIST
from tests.figures import behind_camera, figure, track_of


@pytest.mark.parametrize(("wrist", "hand"), [(LEFT_WRIST, "left"), (RIGHT_WRIST, "right")])
def test_the_hand_that_swings_is_the_racket_hand(wrist: int, hand: str) -> None:
    joints = np.stack([figure((0.0, -4.0))] * 90)
    joints[:, wrist, 0] += 0.4 * np.sin(np.arange(90) / 3.0)
    camera = behind_camera()
    track = track_of(camera, joints, 30.0)
    seen, confidence = seen_hand(track, metres_per_pixel(camera, track.pixels))
    assert seen == hand
    assert confidence >= SURE


def test_hands_that_move_alike_leave_it_unsure() -> None:
    joints = np.stack([figure((0.0, -4.0))] * 90)
    joints[:, [LEFT_WRIST, RIGHT_WRIST], 0] += 0.4 * np.sin(np.arange(90) / 3.0)[:, None]
    camera = behind_camera()
    track = track_of(camera, joints, 30.0)
    assert seen_hand(track, metres_per_pixel(camera, track.pixels))[1] < SURE


def test_a_hidden_wrist_that_jumps_about_is_not_a_swing() -> None:
    joints = np.stack([figure((0.0, -4.0))] * 90)
    joints[:, RIGHT_WRIST, 0] += 0.4 * np.sin(np.arange(90) / 3.0)
    joints[:, LEFT_WRIST] += np.random.default_rng(1).normal(0, 0.2, (90, 3))
    camera = behind_camera()
    track = track_of(camera, joints, 30.0)
    track.visibility[:, LEFT_WRIST] = 0.2
    seen, confidence = seen_hand(track, metres_per_pixel(camera, track.pixels))
    assert seen == "right"
    assert confidence >= SURE
