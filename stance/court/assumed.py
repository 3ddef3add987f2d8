"""The camera that is assumed where no court is known."""

from dataclasses import replace

import numpy as np
import scipy
from numpy.typing import ArrayLike

from stance.court.calibration import CalibratedCourt
from stance.court.camera import Camera
from stance.court.pose import camera_matrix, find_step
from stance.types import FilmedFrom, FloatArray

# With no court marked: what the camera and the player are taken for, and how wrong each may be.
ASSUMED_FOCAL = 26 / 36

ASSUMED_CAMERA_HEIGHT = 1.5

ASSUMED_PLAYER_HEIGHT = 1.70

ASSUMED_BASE_Y = -4.0

# To where the phone looks, degrees from straight at the net, positive from the player's right.
_AZIMUTHS_DEG: dict[FilmedFrom, float] = {
    "behind": 0.0,
    "rear-left": -45.0,
    "rear-right": 45.0,
    "left": -90.0,
    "right": 90.0,
    "front-left": -135.0,
    "front-right": 135.0,
    "front": 180.0,
}

# How far off that is. Each place is the nearest of eight to all within 22.5 degrees of it, which
# have a standard deviation of 13. How well people tell where they put a phone nobody has measured:
# 15 degrees are taken. Both together make 20.
_AZIMUTH_SPREAD_DEG = 20.0


def assumed_camera(
    player_feet_pixel: ArrayLike,
    player_head_pixel: ArrayLike,
    image_size: tuple[int, int],
    filmed_from: FilmedFrom = "behind",
) -> CalibratedCourt:
    """A camera for a clip in which no court is marked, from the player's place in the picture.

    Assumed: a phone's main camera (26 mm equivalent, SD 25 %) 1.5 m above the floor (SD 0.4 m),
    held level (roll SD 2 degrees), looking from where somebody says (SD 20 degrees); a player of
    1.70 m (SD 0.2 m, which also covers bent knees) at 4 m from the net (SD 1 m). Pitch and distance
    follow from the pixels of head and feet. The covariance is what those SDs make of the camera's
    eight numbers; its lens is taken not to bend.

    Parameters
    ----------
    player_feet_pixel, player_head_pixel
        (2,) middle of the feet on the floor, top of the head.
    image_size
        (width, height), pixels.
    filmed_from
        where the phone stood, seen from a player who faces the net.

    Raises
    ------
    ValueError
        If the head is not above the feet.
    """
    pixels = np.array([player_feet_pixel, player_head_pixel], float)
    if pixels[1, 1] >= pixels[0, 1]:
        raise ValueError("the head's pixel must be above the feet's")
    azimuth = np.radians(_AZIMUTHS_DEG[filmed_from])
    usual = np.array(
        [np.log(ASSUMED_FOCAL), azimuth, 0, ASSUMED_CAMERA_HEIGHT, ASSUMED_PLAYER_HEIGHT, 0, 0]
    )
    spreads = np.array([0.25, np.radians(_AZIMUTH_SPREAD_DEG), np.radians(2), 0.4, 0.2, 1.0, 1.0])
    camera = _camera_from_player(usual, pixels, image_size)
    effects = []
    for step in np.diag(0.1 * spreads):
        ends = [_camera_from_player(usual + s, pixels, image_size) for s in (step, -step)]
        effects.append((find_step(camera, ends[0]) - find_step(camera, ends[1])) / 0.2)
    covariance = np.array(effects).T @ np.array(effects)
    return CalibratedCourt(replace(camera, covariance=covariance), None, "assumed")


def _camera_from_player(
    assumptions: FloatArray, pixels: FloatArray, image_size: tuple[int, int]
) -> Camera:
    """The camera that sees a player's feet and head at two pixels.

    Parameters
    ----------
    assumptions
        (7,) log of focal length by long side; azimuth and roll, radians; heights of camera and
        player, metres; the player's x and y from their usual places, metres.
    pixels
        (2, 2) feet and head.
    """
    log_focal, azimuth, roll, camera_height, player_height, sideways, forward = assumptions
    matrix = camera_matrix(np.exp(log_focal) * max(image_size), image_size)
    rolled = scipy.spatial.transform.Rotation.from_euler("z", roll).as_matrix()
    rays = np.column_stack([(pixels - matrix[:2, 2]) / matrix[0, 0], np.ones(2)]) @ rolled
    feet_below_axis, head_below_axis = np.arctan(rays[:, 1])
    # tan(pitch + feet) = camera_height / d and tan(pitch + head) = above_head / d give a
    # quadratic in the distance d when the pitch is taken out of them.
    above_head = camera_height - player_height
    opening = np.tan(feet_below_axis - head_below_axis)
    root = np.sqrt(player_height**2 - 4 * opening**2 * camera_height * above_head)
    distance = (player_height + root) / (2 * opening)
    pitch = np.arctan2(camera_height, distance) - feet_below_axis
    away = np.array(
        [[1, 0, 0], [0, -np.sin(pitch), -np.cos(pitch)], [0, np.cos(pitch), -np.sin(pitch)]]
    )
    to_the_right = rays[0, 0] * (distance * np.cos(pitch) + camera_height * np.sin(pitch))
    feet = np.array([sideways + to_the_right, ASSUMED_BASE_Y + forward, 0.0])
    from_camera = np.array([to_the_right, distance, -camera_height])
    unturned = rolled @ away
    rotation = unturned @ scipy.spatial.transform.Rotation.from_euler("z", -azimuth).as_matrix()
    return Camera(matrix, rotation, unturned @ from_camera - rotation @ feet, image_size)
