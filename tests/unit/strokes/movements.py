"""A stick figure who plays: walks, hops into a landing and swings, told at any frame rate."""

import numpy as np

from stance.people.landmarks import FEET, LEFT_WRIST, RIGHT_ELBOW, RIGHT_WRIST
from tests.unit.figures import figure

LASTS_S = 4.0


def play_about(times: np.ndarray) -> np.ndarray:
    """(frames, 33, 3) metres, court frame: who moves as in play, at some times in seconds.

    They sway over the court, hop every other second and swing the right arm half a second later.
    """
    return np.stack([_posture(float(time_s)) for time_s in times])


def _posture(time_s: float) -> np.ndarray:
    """The joints at a time."""
    joints = figure((0.4 + 0.6 * np.sin(0.9 * time_s), -4.0 + 0.4 * np.sin(1.3 * time_s + 0.5)))
    hop = _bump(time_s, 1.0, 0.4) + _bump(time_s, 3.0, 0.4)
    joints[:, 2] += 0.1 * hop
    joints[list(FEET), 0] += 0.05 * np.sign(joints[list(FEET), 0] - joints[0, 0]) * hop
    # Both hands circle, the right one faster, so that it is plain which one swings.
    for wrist, turns in ((RIGHT_WRIST, 1.5), (LEFT_WRIST, 0.5)):
        turn = 2.0 * np.pi * turns * time_s
        joints[wrist] += 0.06 * np.array((np.cos(turn), 0.0, np.sin(turn)))
    swing = _bump(time_s, 1.6, 0.5) + _bump(time_s, 3.4, 0.5)
    joints[RIGHT_WRIST] += swing * np.array((0.1, 0.35, 0.7))
    joints[RIGHT_ELBOW] += swing * np.array((0.1, 0.2, 0.4))
    sinking = [number for number in range(len(joints)) if number not in FEET]
    joints[sinking, 2] -= 0.08 * (_bump(time_s, 1.3, 0.6) + _bump(time_s, 3.3, 0.6))
    return joints


def _bump(time_s: float, middle_s: float, lasts_s: float) -> float:
    """A smooth rise to one and back."""
    share = np.clip((time_s - middle_s) / lasts_s, -0.5, 0.5)
    return float(np.cos(np.pi * share) ** 2)
