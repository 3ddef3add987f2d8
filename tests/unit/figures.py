"""Stick figures with known joints, and tracks of them, for tests without a picture."""

import numpy as np

from stance.court.camera import Camera, project
from stance.people.landmarks import (
    LANDMARKS,
    LEFT_ANKLE,
    LEFT_EAR,
    LEFT_ELBOW,
    LEFT_HEEL,
    LEFT_HIP,
    LEFT_KNEE,
    LEFT_SHOULDER,
    LEFT_TOE,
    LEFT_WRIST,
    NOSE,
    RIGHT_ANKLE,
    RIGHT_EAR,
    RIGHT_ELBOW,
    RIGHT_HEEL,
    RIGHT_HIP,
    RIGHT_KNEE,
    RIGHT_SHOULDER,
    RIGHT_TOE,
    RIGHT_WRIST,
)
from stance.people.track import Track

# A player at the origin who faces the net: (right, towards the net, up), metres.
JOINTS = {
    NOSE: (0.0, 0.25, 1.35),
    LEFT_EAR: (-0.08, 0.15, 1.38),
    RIGHT_EAR: (0.08, 0.15, 1.38),
    LEFT_SHOULDER: (-0.19, 0.1, 1.15),
    RIGHT_SHOULDER: (0.19, 0.1, 1.15),
    LEFT_ELBOW: (-0.3, 0.25, 0.95),
    RIGHT_ELBOW: (0.3, 0.25, 0.95),
    LEFT_WRIST: (-0.2, 0.45, 0.95),
    RIGHT_WRIST: (0.2, 0.45, 1.0),
    LEFT_HIP: (-0.12, -0.1, 0.75),
    RIGHT_HIP: (0.12, -0.1, 0.75),
    LEFT_KNEE: (-0.28, 0.15, 0.42),
    RIGHT_KNEE: (0.28, 0.15, 0.42),
    LEFT_ANKLE: (-0.33, -0.05, 0.09),
    RIGHT_ANKLE: (0.33, -0.05, 0.09),
    LEFT_HEEL: (-0.32, -0.12, 0.03),
    RIGHT_HEEL: (0.32, -0.12, 0.03),
    LEFT_TOE: (-0.4, 0.12, 0.02),
    RIGHT_TOE: (0.4, 0.12, 0.02),
}


def behind_camera(height: float = 2.2, back: float = 9.0, focal: float = 1000.0) -> Camera:
    """A level camera behind the court that looks towards the net."""
    rotation = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
    matrix = np.array([[focal, 0.0, 640.0], [0.0, focal, 360.0], [0.0, 0.0, 1.0]])
    return Camera(matrix, rotation, -rotation @ [0.0, -back, height], (1280, 720))


def figure(base: tuple[float, float], stretch: float = 1.0) -> np.ndarray:
    """(33, 3) metres, court frame: the player at a place; unnamed landmarks are at the nose."""
    joints = np.tile(np.array(JOINTS[NOSE]), (LANDMARKS, 1))
    for landmark, place in JOINTS.items():
        joints[landmark] = place
    return joints * (1.0, 1.0, stretch) + (*base, 0.0)


def track_of(camera: Camera, joints: np.ndarray, frame_rate: float) -> Track:
    """A track of joints (frames, 33, 3) as a faultless pose model would give it."""
    count = len(joints)
    world = (
        joints - joints[:, [LEFT_HIP, RIGHT_HIP]].mean(axis=1, keepdims=True)
    ) @ camera.rotation.T
    return Track(
        np.arange(count),
        np.arange(count) / frame_rate,
        project(camera, joints),
        np.ones((count, LANDMARKS)),
        world,
    )
