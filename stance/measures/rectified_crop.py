"""The rectified crop: what a level camera that looks straight at the player would see.

A camera that turns on the spot sees the same rays in other places, so the picture of a turned
camera can be made from the picture at hand exactly. Turned level and straight at the player,
neither the phone's roll nor the player's place in the picture is left for a network to guess.
"""

import cv2
import numpy as np

from stance.court.camera import Camera, camera_centre, project, viewing_ray
from stance.types import FloatArray, ImageArray

RECTIFIED_PIXELS = 256
"""Side of a crop in pixels."""

RECTIFIED_FACTOR = 1.3
"""A crop is this many times as large as what the landmarks span."""

_INTERVALS = 32
"""Where the rays of a crop's pixels lie in the picture is computed for so many intervals across,
and on straight lines in between: a hundredth of a pixel off, in a tenth of the time."""


def rectified_camera(
    camera: Camera,
    pixels: FloatArray,
    size: int = RECTIFIED_PIXELS,
    factor: float = RECTIFIED_FACTOR,
) -> Camera:
    """Return the camera that sees a player's rectified crop.

    Parameters
    ----------
    camera
        of the whole picture
    pixels
        (points, 2) pixels: the player's landmarks in the camera's picture
    size
        pixels of the crop's side
    factor
        how many times as large as the player the crop is

    Returns
    -------
    Camera, at the same place, level, without covariance
    """
    ray = viewing_ray(camera, (pixels.min(axis=0) + pixels.max(axis=0)) / 2.0)
    right = np.array([ray[1], -ray[0], 0.0]) / np.hypot(ray[0], ray[1])
    rotation = np.stack([right, np.cross(ray, right), ray])
    seen = viewing_ray(camera, pixels) @ rotation.T
    plane = seen[:, :2] / seen[:, 2:]
    low, high = plane.min(axis=0), plane.max(axis=0)
    focal = size / (factor * float((high - low).max()))
    middle = size / 2.0 - focal * (low + high) / 2.0
    matrix = np.array([[focal, 0.0, middle[0]], [0.0, focal, middle[1]], [0.0, 0.0, 1.0]])
    return Camera(matrix, rotation, -rotation @ camera_centre(camera), (size, size))


def rectified_crop(image: ImageArray, camera: Camera, crop_camera: Camera) -> ImageArray:
    """Cut a rectified crop out of a picture; what the picture does not show is black.

    Parameters
    ----------
    image
        (height, width, 3) RGB, upright
    camera
        that took the picture
    crop_camera
        from `rectified_camera`

    Returns
    -------
    (size, size, 3) RGB
    """
    size = crop_camera.image_size[0]
    steps = np.linspace(0.0, size, _INTERVALS + 1)
    places = np.stack(np.meshgrid(steps, steps), axis=-1)
    # A point a metre down the ray; only its direction counts.
    sparse = project(camera, camera_centre(camera) + viewing_ray(crop_camera, places))
    between = _linear_weights(np.arange(size, dtype=np.float64) + 0.5, steps)
    pixels = np.einsum("rj,jkc,sk->rsc", between, sparse, between, optimize=True)
    left, top = np.floor(pixels.min(axis=(0, 1))).astype(int) - 2
    right, bottom = np.ceil(pixels.max(axis=(0, 1))).astype(int) + 3
    height, width = image.shape[:2]
    # The mapping samples without averaging; reducing by area before keeps it free of aliasing.
    factor = max(1, int(min(right - left, bottom - top) / size))
    wide, high = -(-(right - left) // factor), -(-(bottom - top) // factor)
    cut: ImageArray = np.zeros((high * factor, wide * factor, 3), np.uint8)
    x0, y0 = max(left, 0), max(top, 0)
    inside = image[
        y0 : max(min(top + high * factor, height), y0),
        x0 : max(min(left + wide * factor, width), x0),
    ]
    cut[y0 - top : y0 - top + inside.shape[0], x0 - left : x0 - left + inside.shape[1]] = inside
    if factor > 1:
        cut = np.asarray(cv2.resize(cut, (wide, high), interpolation=cv2.INTER_AREA), np.uint8)
    # OpenCV's pixel centres are at whole numbers, ours at .5.
    wanted = ((pixels - (left, top)) / factor - 0.5).astype(np.float32)
    found = cv2.remap(
        cut, wanted[..., 0], wanted[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT
    )
    return np.asarray(found, np.uint8)


def _linear_weights(values: FloatArray, steps: FloatArray) -> FloatArray:
    """How much each of evenly spread steps weighs in a value between: (values, steps)."""
    return np.stack([np.interp(values, steps, unit) for unit in np.eye(len(steps))], axis=-1)
