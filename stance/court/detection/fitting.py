"""Fits a camera, lens included, to the painted lines: from afar to stripes, then to edges.

Eight numbers are fitted, those of `stance.court.camera`, with priors for focal length and
distortion. Each step looks anew for what belongs to which line, so
these are iteratively reweighted Gauss-Newton steps of one linear solve each, after which the
search is narrower, and nothing that `scipy.optimize.least_squares` could run to its end. Lengths
are meant for a picture whose long side has 1280 pixels.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stance.court.camera import Camera, camera_centre, depth, project, projection_parameter_jacobian
from stance.court.detection.edges import Edges, locate_edges
from stance.court.detection.line_samples import LINE_EDGES, LINE_MIDDLES
from stance.court.detection.stripes import Stripes
from stance.court.floor_error import on_floor
from stance.court.pose import (
    FOCAL_SPREAD,
    focal_misfit,
    is_plausible_lens,
    move_camera,
    weigh_distortion,
)
from stance.types import FloatArray


@dataclass(frozen=True, eq=False)
class FittedCamera:
    """A camera, and the edges of lines that were found around where it puts them."""

    camera: Camera
    edges: Edges


def fit_to_homography(camera: Camera, homography: FloatArray) -> Camera:
    """The camera nearby that shows the court's lines where a homography shows them.

    Steps after Levenberg and Marquardt, each held to cameras that a phone could be. With
    `scipy.optimize.least_squares` the same courts are found as fast, but at other last digits.

    Parameters
    ----------
    camera
        where to start, such as a pose for a guessed focal length.
    homography
        (3, 3) court places (x, y, 1) in metres to homogeneous pixels.
    """
    flat = on_floor(LINE_MIDDLES.places)
    homogeneous = np.column_stack([LINE_MIDDLES.places, np.ones(len(flat))]) @ homography.T
    with np.errstate(divide="ignore", invalid="ignore"):
        target = homogeneous[:, :2] / homogeneous[:, 2:]
        inside = ((target > 0) & (target < np.array(camera.image_size))).all(axis=1)
    inside &= (homogeneous[:, 2] > 0) & (depth(camera, flat) > 0.2)
    flat, target = flat[inside], target[inside]
    error = _residuals(camera, flat, target)
    damping = 1e-3
    for _ in range(12):
        jacobian = projection_parameter_jacobian(camera, flat)[..., :7].reshape(-1, 7)
        information = jacobian.T @ jacobian
        information += damping * np.diag(np.diag(information)) + 1e-9 * np.eye(7)
        step = np.linalg.solve(information, jacobian.T @ error.ravel())
        moved = move_camera(camera, np.append(step, 0.0))
        moved_error = _residuals(moved, flat, target)
        if _is_plausible(moved) and np.sum(moved_error**2) < np.sum(error**2):
            camera, error = moved, moved_error
            damping /= 5
        else:
            damping *= 10
    return camera


def fit_to_stripes(camera: Camera, stripes: Stripes) -> Camera | None:
    """Fit a camera to the middles of stripes, from farther away than edges allow.

    Each sample on a court line is drawn to the nearest stripe that runs its way.

    Returns
    -------
    None where too few stripes are near, or the camera runs away.
    """
    unit = max(camera.image_size) / 1280
    normal = stripes.normal
    for reach in (8.0, 7.0, 6.0, 5.0, 4.0, 3.0):
        matches = _match_stripes(camera, stripes, reach * unit)
        if len(matches.sample) < 10:
            return None
        flat = on_floor(LINE_MIDDLES.places[matches.sample])
        jacobian = normal_jacobian(camera, flat, normal[matches.stripe])
        weight = 1.0 / (1.0 + (matches.offset / (0.4 * reach * unit)) ** 2) ** 2 / unit**2
        equations = build_normal_equations(camera, jacobian, matches.offset, weight)
        camera = move_camera(camera, np.clip(_solve(equations), -0.5, 0.5))
        if not _is_plausible(camera):
            return None
    return camera


def fit_to_edges(
    camera: Camera, picture: NDArray[np.float32], least_step: float
) -> FittedCamera | None:
    """Fit a camera to the edges of the lines, the search growing narrower.

    Weights after Geman and McClure (Statistical methods for tomographic image reconstruction,
    Bulletin of the ISI 52, 1987).

    Parameters
    ----------
    picture
        (height, width) in which lines are brighter than the floor.
    least_step
        smallest step in brightness of an edge.

    Returns
    -------
    None where too few edges are seen, or the camera runs away.
    """
    unit = max(camera.image_size) / 1280
    for reach in (7.0, 7.0, 4.0, 4.0, 2.5, 2.5):
        edges = locate_edges(camera, picture, reach * unit, least_step)
        seen = np.isfinite(edges.offset)
        if seen.sum() < 12:
            return None
        flat = on_floor(LINE_EDGES.places[edges.sample[seen]])
        jacobian = normal_jacobian(camera, flat, edges.normal[seen])
        offset = edges.offset[seen]
        spread = max(1.4826 * float(np.median(np.abs(offset))), 0.25 * unit)
        weight = 1.0 / (1.0 + (offset / (2.0 * spread)) ** 2) ** 2
        noise = max(spread, 0.3 * unit)
        step = _solve(build_normal_equations(camera, jacobian, offset, weight / noise**2))
        if np.abs(step[0]) > 0.5 or np.linalg.norm(step[1:4]) > 0.3:
            return None
        camera = move_camera(camera, step)
        if not _is_plausible(camera):
            return None
    return FittedCamera(camera, locate_edges(camera, picture, 2.5 * unit, least_step))


@dataclass(frozen=True, eq=False)
class NormalEquations:
    """Linear least squares for a step: `information` (8, 8) times the step is `gradient` (8,)."""

    information: FloatArray
    gradient: FloatArray


def build_normal_equations(
    camera: Camera, jacobian: FloatArray, offset: FloatArray, weight: FloatArray
) -> NormalEquations:
    """The step's equations from points that are found off their place, with the priors' share.

    Parameters
    ----------
    jacobian
        (n, 8) as of `normal_jacobian`.
    offset
        (n,) pixels along the normals.
    weight
        (n,) one by the variance of an offset, pixels^-2.
    """
    information = (jacobian * weight[:, None]).T @ jacobian
    gradient = (jacobian * weight[:, None]).T @ offset
    information[0, 0] += FOCAL_SPREAD**-2
    gradient[0] -= focal_misfit(camera) / FOCAL_SPREAD
    information[7, 7] += weigh_distortion(camera)
    gradient[7] -= weigh_distortion(camera) * camera.distortion
    return NormalEquations(information, gradient)


def normal_jacobian(camera: Camera, points: FloatArray, normal: FloatArray) -> FloatArray:
    """How far points move along normals in the picture when the eight numbers change.

    Parameters
    ----------
    points
        (n, 3) metres, court frame.
    normal
        (n, 2) unit vectors in the picture.

    Returns
    -------
    (n, 8) pixels.
    """
    by_camera = projection_parameter_jacobian(camera, points)
    return np.asarray(np.einsum("nk,nkp->np", normal, by_camera))


@dataclass(frozen=True, eq=False)
class _StripeMatches:
    """Samples on the lines' middles, the stripes nearest to them, and how far off along normals.

    `sample` (m,) of `LINE_MIDDLES`; `stripe` (m,); `offset` (m,) pixels.
    """

    sample: NDArray[np.intp]
    stripe: NDArray[np.intp]
    offset: FloatArray


def _match_stripes(camera: Camera, stripes: Stripes, reach: float) -> _StripeMatches:
    """The nearest stripe within `reach` pixels of each sample that runs the same way."""
    unit = max(camera.image_size) / 1280
    start, length, along, normal = stripes.ends[:, 0], stripes.length, stripes.along, stripes.normal
    flat = on_floor(LINE_MIDDLES.places)
    beside = on_floor(LINE_MIDDLES.places + 0.1 * LINE_MIDDLES.directions)
    in_front = np.minimum(depth(camera, flat), depth(camera, beside)) > 0.2
    with np.errstate(invalid="ignore"):
        pixel, side = project(camera, flat), project(camera, beside)
        size = np.array(camera.image_size)
        inside = in_front & (pixel > 0).all(axis=1) & (pixel < size).all(axis=1)
    sample = np.flatnonzero(inside & np.isfinite(side).all(axis=1))
    pixel, side = pixel[sample], side[sample]
    heading = side - pixel
    heading /= np.maximum(np.linalg.norm(heading, axis=1, keepdims=True), 1e-9)
    from_start = pixel[:, None] - start[None]
    at = np.einsum("nsk,sk->ns", from_start, along)
    off = np.einsum("nsk,sk->ns", from_start, normal)
    same_way = np.abs(heading @ along.T) > np.cos(np.radians(6.0))
    fits = same_way & (at > -4 * unit) & (at < length + 4 * unit)
    away = np.where(fits, np.abs(off), np.inf)
    nearest = np.argmin(away, axis=1)
    hit = np.flatnonzero(away[np.arange(len(sample)), nearest] < reach)
    return _StripeMatches(sample[hit], nearest[hit], -off[hit, nearest[hit]])


def _solve(equations: NormalEquations) -> FloatArray:
    """The step (8,) that normal equations ask for, the shortest where they leave it open."""
    scale = 1 / np.sqrt(np.maximum(np.diag(equations.information), 1e-12))
    scaled = equations.information * scale[:, None] * scale[None]
    step: FloatArray = np.linalg.lstsq(scaled, equations.gradient * scale, rcond=1e-10)[0] * scale
    return step


def _residuals(camera: Camera, places: FloatArray, pixels: FloatArray) -> FloatArray:
    """By how much a camera shows places (n, 3) beside pixels (n, 2), huge behind the camera."""
    return np.asarray(np.nan_to_num(pixels - project(camera, places), nan=1e6))


def _is_plausible(camera: Camera) -> bool:
    """Whether a phone could be such a camera."""
    return is_plausible_lens(camera) and bool(0.2 < camera_centre(camera)[2] < 15)
