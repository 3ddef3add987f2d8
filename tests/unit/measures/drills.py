"""Stick figures that wait, run, swing or hop at known times."""

import numpy as np

from stance.people.landmarks import RIGHT_ELBOW, RIGHT_WRIST
from tests.unit.figures import figure

RATE = 30.0


def drill(parts: list[tuple[str, float]], rate: float = RATE) -> np.ndarray:
    """(frames, 33, 3): a player who waits, runs, swings or hops for some seconds."""
    x, frames = 0.0, []
    for what, seconds in parts:
        for i in range(round(seconds * rate)):
            if what == "run":
                x += 2.5 / rate
            joints = figure((x, -4.0))
            if what == "hop":
                joints[:, 2] += 0.1 * np.sin(np.pi * i / round(seconds * rate))
            if what == "swing":
                turn = 2.0 * np.pi * (i / rate) / 0.4
                joints[[RIGHT_WRIST, RIGHT_ELBOW], 0] += 0.45 * np.sin(turn)
                joints[[RIGHT_WRIST, RIGHT_ELBOW], 2] += 0.45 * (1 - np.cos(turn))
            frames.append(joints)
    return np.array(frames)
