"""The camera: where a point of the court shows in the picture, and where on the floor a pixel lies.

A camera is a pinhole, `pixel ~ K (R X + t)`, with X in metres in the court frame, whose lens may
bend the picture: what shows at the radius r from the middle, in focal lengths, a pinhole would show
at r / (1 + distortion r^2), the division model of Fitzgibbon (CVPR 2001, Simultaneous linear
estimation of multiple view geometry and lens distortion). One number carries phones and wide-angle
lenses: -1/4 is a stereographic fisheye, -1/3 an equidistant one to 0.2 degrees out to 40 degrees
off the middle, and no ray is shown twice. Pixels count from the top left corner of the top left
pixel, x to the right and y down, so the middle of that pixel is at (0.5, 0.5). The camera's own
axes are x right, y down and z away.

The eight numbers that a calibration estimates, and whose covariance a camera carries, are
always in this order: log focal length; rotation vector w (3, radians) with R = exp(w) R0;
translation t (3, metres); distortion. The derivatives of the first seven are those of Hartley and
Zisserman, *Multiple View Geometry in Computer Vision*, 2nd edition 2004, chapters 6 and A4.3.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from stance.types import FloatArray

# (3, 3) turn by 180 degrees about z, from the near half's frame to the far one's.
HALF_TURN = np.diag([-1.0, -1.0, 1.0])


@dataclass(frozen=True)
class Camera:
    """A pinhole camera in the court frame.

    Attributes
    ----------
    matrix
        (3, 3) K, pixels; square pixels without skew.
    rotation
        (3, 3) R, court axes to camera axes.
    translation
        (3,) t, metres, camera axes.
    image_size
        (width, height) of the upright picture, pixels.
    covariance
        (8, 8) of log focal length, rotation vector, translation and distortion (order and units as
        at the top of this module), or None where the camera is known exactly.
    distortion
        of the lens, as at the top of this module, per focal length squared; 0 for none, negative
        where the picture's corners are drawn in.
    """

    matrix: FloatArray
    rotation: FloatArray
    translation: FloatArray
    image_size: tuple[int, int]
    covariance: FloatArray | None = None
    distortion: float = 0.0

    @cached_property
    def _inverse(self) -> FloatArray:
        """(3, 3) pixels to directions in camera axes."""
        return np.asarray(np.linalg.inv(self.matrix))

    @cached_property
    def _centre(self) -> FloatArray:
        """(3,) metres, court frame."""
        return np.asarray(-self.rotation.T @ self.translation)


def camera_centre(camera: Camera) -> FloatArray:
    """Where the camera stands: (3,) metres, court frame."""
    centre: FloatArray = camera._centre
    return centre


def depth(camera: Camera, points: ArrayLike) -> FloatArray:
    """Distance of points from the camera along its viewing axis.

    Parameters
    ----------
    points
        (..., 3) metres, court frame.

    Returns
    -------
    (...) metres, negative behind the camera.
    """
    along_axis: FloatArray = np.asarray(points, float) @ camera.rotation[2] + camera.translation[2]
    return along_axis


def project(camera: Camera, points: ArrayLike) -> FloatArray:
    """Where points of the court show in the picture.

    OpenCV's `projectPoints` shows points behind the camera too, and has no lens of this kind.

    Parameters
    ----------
    points
        (..., 3) metres, court frame.

    Returns
    -------
    (..., 2) pixels, NaN for points that are not in front of the camera.
    """
    in_camera = np.asarray(points, float) @ camera.rotation.T + camera.translation
    away = np.where(in_camera[..., 2] > 0, in_camera[..., 2], np.nan)
    plane = in_camera[..., :2] / away[..., None]
    plane = _bend(camera, plane)
    pixels: FloatArray = plane @ camera.matrix[:2, :2].T + camera.matrix[:2, 2]
    return pixels


def viewing_ray(camera: Camera, pixels: ArrayLike) -> FloatArray:
    """Directions in which pixels look.

    Parameters
    ----------
    pixels
        (..., 2).

    Returns
    -------
    (..., 3) unit vectors, court frame, away from the camera.
    """
    return _ray_in_camera(camera, pixels) @ camera.rotation


def floor_point(camera: Camera, pixels: ArrayLike, height: ArrayLike = 0.0) -> FloatArray:
    """The point a pixel shows, if that point lies at a known height above the floor.

    Parameters
    ----------
    pixels
        (..., 2).
    height
        (...) metres above the floor, or one for all.

    Returns
    -------
    (..., 3) metres, court frame; NaN where the pixel's ray never comes to that height, as for
    pixels above the horizon.
    """
    ray = viewing_ray(camera, pixels)
    centre = camera_centre(camera)
    with np.errstate(divide="ignore", invalid="ignore"):
        distance = (np.asarray(height, float) - centre[2]) / ray[..., 2]
    distance = np.where(np.isfinite(distance) & (distance > 0), distance, np.nan)
    point = centre + distance[..., None] * ray
    point[..., 2] = np.where(np.isnan(distance), np.nan, height)
    return point


def floor_jacobian(camera: Camera, pixels: ArrayLike, height: float = 0.0) -> FloatArray:
    """How far a floor point moves when its pixel moves.

    Parameters
    ----------
    pixels
        (..., 2).
    height
        metres above the floor.

    Returns
    -------
    (..., 2, 2) metres per pixel: rows are the point's x and y, columns the pixel's.
    """
    points = floor_point(camera, pixels, height)
    across_floor = _pixel_by_point(camera, points) @ camera.rotation[:, :2]
    return _inverse_2x2(across_floor)


def floor_parameter_jacobian(camera: Camera, pixels: ArrayLike, height: float = 0.0) -> FloatArray:
    """How far a floor point moves when the camera's eight numbers change and its pixel stays.

    With J from here, J covariance J^T is what the calibration's own error adds to the point.

    Parameters
    ----------
    pixels
        (..., 2).
    height
        metres above the floor.

    Returns
    -------
    (..., 2, 8): rows are the point's x and y in metres, columns the eight numbers in the order
    of this module.
    """
    points = floor_point(camera, pixels, height)
    return -floor_jacobian(camera, pixels, height) @ projection_parameter_jacobian(camera, points)


def projection_parameter_jacobian(camera: Camera, points: ArrayLike) -> FloatArray:
    """How far a point's pixel moves when the camera's eight numbers change.

    Parameters
    ----------
    points
        (..., 3) metres, court frame.

    Returns
    -------
    (..., 2, 8): rows are the pixel's x and y, columns the eight numbers in the order of this
    module.
    """
    points = np.asarray(points, float)
    by_point = _pixel_by_point(camera, points)
    principal_point = camera.matrix[:2, 2]
    by_log_focal = project(camera, points) - principal_point
    by_rotation = -by_point @ _cross_matrix(points @ camera.rotation.T)
    squared = np.sum((by_log_focal / camera.matrix[0, 0]) ** 2, axis=-1, keepdims=True)
    by_distortion = by_log_focal * squared / (1.0 - camera.distortion * squared)
    return np.concatenate(
        [by_log_focal[..., None], by_rotation, by_point, by_distortion[..., None]], axis=-1
    )


def turned_180(camera: Camera) -> Camera:
    """The same camera in the frame of the other half, which is turned by 180 degrees about z."""
    return replace(camera, rotation=camera.rotation @ HALF_TURN)


def _ray_in_camera(camera: Camera, pixels: ArrayLike) -> FloatArray:
    """Directions (..., 3) of pixels (..., 2), unit vectors in camera axes."""
    pixels = np.asarray(pixels, float)
    homogeneous = np.concatenate([pixels, np.ones_like(pixels[..., :1])], axis=-1)
    ray = homogeneous @ camera._inverse.T
    if camera.distortion:
        ray[..., 2] += camera.distortion * np.sum(ray[..., :2] ** 2, axis=-1)
    unit: FloatArray = ray / np.sqrt((ray * ray).sum(axis=-1, keepdims=True))
    return unit


def _pixel_by_point(camera: Camera, points: FloatArray) -> FloatArray:
    """Derivative of pixels by the points' place in camera axes: (..., 2, 3) pixels per metre."""
    in_camera = points @ camera.rotation.T + camera.translation
    away = np.where(in_camera[..., 2] > 0, in_camera[..., 2], np.nan)[..., None]
    plane = in_camera[..., :2] / away
    plane_by_point = np.concatenate(
        [np.broadcast_to(np.eye(2), (*plane.shape, 2)), -plane[..., None]], axis=-1
    )
    plane_by_point = plane_by_point / away[..., None]
    if camera.distortion:
        shown = _bend(camera, plane)
        bent = camera.distortion * np.sum(shown**2, axis=-1)[..., None, None]
        outer = shown[..., :, None] * shown[..., None, :]
        bend = (1.0 + bent) * (np.eye(2) + 2.0 * camera.distortion * outer / (1.0 - bent))
        plane_by_point = bend @ plane_by_point
    by_point: FloatArray = camera.matrix[:2, :2] @ plane_by_point
    return by_point


def _bend(camera: Camera, plane: FloatArray) -> FloatArray:
    """Where the lens shows what a pinhole shows at `plane`, both (..., 2) in focal lengths.

    Where a lens that draws corners out shows nothing more, far outside every picture, it bends no
    further.
    """
    if not camera.distortion:
        return plane
    squared = np.sum(plane**2, axis=-1, keepdims=True)
    root = np.sqrt(np.maximum(1.0 - 4.0 * camera.distortion * squared, 0.0))
    bent: FloatArray = plane * (2.0 / (1.0 + root))
    return bent


def _cross_matrix(vectors: FloatArray) -> FloatArray:
    """Matrices (..., 3, 3) that take the cross product of vectors (..., 3) with another one."""
    x, y, z = np.moveaxis(vectors, -1, 0)
    zero = np.zeros_like(x)
    rows = [np.stack(row, axis=-1) for row in ((zero, -z, y), (z, zero, -x), (-y, x, zero))]
    return np.stack(rows, axis=-2)


def _inverse_2x2(matrices: FloatArray) -> FloatArray:
    """Inverse of matrices (..., 2, 2); NaN stays NaN."""
    a, b = matrices[..., 0, 0], matrices[..., 0, 1]
    c, d = matrices[..., 1, 0], matrices[..., 1, 1]
    adjugate = np.stack([np.stack([d, -b], axis=-1), np.stack([-c, a], axis=-1)], axis=-2)
    return adjugate / (a * d - b * c)[..., None, None]
