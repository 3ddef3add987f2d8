"""Cameras around the court and the marks they would give, for the tests of this folder."""

import numpy as np
from scipy.spatial.transform import Rotation

from stance.court.camera import Camera, project
from stance.court.court_file import MarkedCourt
from stance.court.dimensions import court_points

SIZE = (1280, 720)
NEAR_HALF = np.array(
    [p for name, p in court_points().items() if name.startswith("near") and name.endswith("centre")]
)
CORNERS = np.array([[-3.05, -6.70], [3.05, -6.70], [3.05, 6.70], [-3.05, 6.70]])
SIX = np.array([[-3.03, -6.68], [3.03, -6.68], [3.03, -2.0], [-3.03, -2.0], [0, -2.0], [0, 2.0]])


def camera_at(place, azimuth_deg, pitch_deg, roll_deg=0.0, focal=950.0, covariance=None):
    """A camera at a place (metres) that looks to y, turned left, tilted down and rolled."""
    level = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])
    turn = Rotation.from_euler("z", -azimuth_deg, degrees=True).as_matrix()
    tilt = Rotation.from_euler("zx", [roll_deg, pitch_deg], degrees=True).as_matrix()
    rotation = tilt @ level @ turn
    matrix = np.array([[focal, 0, SIZE[0] / 2], [0, focal, SIZE[1] / 2], [0, 0, 1]])
    return Camera(matrix, rotation, -rotation @ np.array(place, float), SIZE, covariance)


REAR_CORNER = camera_at([4.2, -12.5, 1.7], 18.0, 5.0, 1.0)
BEHIND = camera_at([0.0, -11.5, 1.8], 0.0, 5.0)
SIDE = camera_at([9.0, -4.0, 2.0], 90.0, 8.0)
IN_FRONT = camera_at([0.5, 4.5, 1.7], 175.0, 5.0)
VIEWS = {"rear corner": REAR_CORNER, "behind": BEHIND, "side": SIDE, "in front": IN_FRONT}


def on_floor(places):
    return np.column_stack([places, np.zeros(len(places))])


def marked_by(camera, places, noise=0.0, seed=0):
    """The marks a coach would make, with noise in pixels."""
    pixels = project(camera, on_floor(places))
    pixels = pixels + np.random.default_rng(seed).normal(0, noise, pixels.shape)
    return MarkedCourt(camera.image_size, np.array(places, float), pixels)
