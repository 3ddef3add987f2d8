"""Fits a camera to the edges of the painted lines."""

from dataclasses import dataclass, replace

import numpy as np
import scipy
from numpy.typing import NDArray

from stance.court.camera import Camera, camera_centre, depth, project, projection_parameter_jacobian
from stance.court.detection.families import ACROSS, ALONG, SAMPLE_DIRECTIONS, SAMPLE_LINES, SAMPLES
from stance.court.detection.net_tape import behind_tape
from stance.court.detection.stripes import Stripes, sample_picture
from stance.court.dimensions import LINE_WIDTH
from stance.court.pose import FOCAL_RANGE, FOCAL_SPREAD, USUAL_FOCAL
from stance.types import FloatArray

# Standard deviation of a bent lens's coefficient, and of an edge's place in pixels at 1280.
_DISTORTION_SPREAD = 0.03


def _edge_samples() -> tuple[FloatArray, FloatArray, NDArray[np.intp]]:
    """Points on both edges of the court's lines, where no line crosses.

    Returns
    -------
    (n, 2) metres; (n, 2) unit vectors outwards from the line; (n,) number of the line.
    """
    outwards = np.column_stack([-SAMPLE_DIRECTIONS[:, 1], SAMPLE_DIRECTIONS[:, 0]])
    other = np.where(np.abs(SAMPLE_DIRECTIONS[:, :1]) > 0.5, SAMPLES[:, :1], SAMPLES[:, 1:])
    crossings = np.where(np.abs(SAMPLE_DIRECTIONS[:, :1]) > 0.5, ALONG[None], np.nan)
    crossings_y = np.where(np.abs(SAMPLE_DIRECTIONS[:, 1:]) > 0.5, ACROSS[None], np.nan)
    near = np.nanmin(np.abs(other - np.hstack([crossings, crossings_y])), axis=1) < 0.06
    free = ~near
    points, outwards, lines = SAMPLES[free], outwards[free], SAMPLE_LINES[free]
    return (
        np.concatenate([points + outwards * LINE_WIDTH / 2, points - outwards * LINE_WIDTH / 2]),
        np.concatenate([outwards, -outwards]),
        np.concatenate([lines, lines]),
    )


EDGES, _EDGE_OUTWARDS, EDGE_LINES = _edge_samples()


@dataclass(frozen=True)
class Edges:
    """What the picture shows where a camera puts the edges of the court's lines.

    `sample` (n,) which of the edge samples are in the picture; `pixel` (n, 2) where the camera
    puts them; `normal` (n, 2) outwards; `offset` (n,) how far outwards the edge is found, pixels,
    NaN where there is none; `length` (n,) pixels of line that a sample stands for.
    """

    sample: NDArray[np.intp]
    pixel: FloatArray
    normal: FloatArray
    offset: FloatArray
    length: FloatArray


def _look_for_edges(
    camera: Camera, picture: NDArray[np.float32], reach: float, least: float
) -> Edges:
    """Look for the lines' edges in a picture (h, w) in which lines are brighter than the floor.

    Parameters
    ----------
    reach : how far from the expected place, pixels.
    least : smallest step in brightness of an edge.
    """
    flat = np.column_stack([EDGES, np.zeros(len(EDGES))])
    outer = flat.copy()
    outer[:, :2] += 0.02 * _EDGE_OUTWARDS
    aside = flat.copy()
    aside[:, :2] += 0.125 * np.column_stack([-_EDGE_OUTWARDS[:, 1], _EDGE_OUTWARDS[:, 0]])
    in_front = np.minimum(depth(camera, flat), depth(camera, outer)) > 0.2
    with np.errstate(invalid="ignore"):
        pixel, out, side = (project(camera, p) for p in (flat, outer, aside))
        inside = (pixel > 3).all(axis=1) & (pixel < np.array(camera.image_size) - 3).all(axis=1)
    inside &= np.isfinite(side).all(axis=1) & ~behind_tape(camera, flat)
    sample = np.flatnonzero(in_front & inside)
    pixel, out, side = pixel[sample], out[sample], side[sample]
    along = side - pixel
    half = np.linalg.norm(along, axis=1)
    along /= np.maximum(half, 1e-9)[:, None]
    normal = np.column_stack([-along[:, 1], along[:, 0]])
    width = np.einsum("nk,nk->n", out - pixel, normal) * 2
    normal *= np.sign(width)[:, None]
    width = np.abs(width)
    steps = np.arange(-reach - 1, reach + 1.01, 0.5)
    profile = sample_picture(picture, pixel[:, None] + steps[None, :, None] * normal[:, None])
    slope = profile[:, :-4] - profile[:, 4:]
    at = steps[2:-2]
    # The nearest strong edge counts most.
    rated = slope * np.exp(-0.5 * (at / reach) ** 2)
    best = np.argmax(rated, axis=1)
    inner = np.clip(best, 1, len(at) - 2)
    row = np.arange(len(sample))
    before, here, after = (slope[row, inner + k] for k in (-1, 0, 1))
    curve = before - 2 * here + after
    step = np.where(curve < -1e-6, 0.5 * (before - after) / np.minimum(curve, -1e-6), 0.0)
    offset = at[inner] + 0.5 * np.clip(step, -1, 1)
    found = (slope[row, best] > least) & (best > 0) & (best < len(at) - 1)
    found &= width > 0.7
    # Lines too thin to be seen for sure say less, whether they are found or not.
    length = np.minimum(2 * half, 0.08 * max(camera.image_size)) / 2
    length *= np.clip((width - 0.5) / 1.0, 0.0, 1.0)
    return Edges(sample, pixel, normal, np.where(found, offset, np.nan), length)


def _moved_camera(camera: Camera, step: FloatArray) -> Camera:
    """The camera after a step in its seven numbers and the distortion."""
    matrix = camera.matrix.copy()
    matrix[:2, :2] *= np.exp(step[0])
    rotation = scipy.spatial.transform.Rotation.from_rotvec(step[1:4]).as_matrix() @ camera.rotation
    return replace(
        camera,
        matrix=matrix,
        rotation=rotation,
        translation=camera.translation + step[4:7],
        distortion=float(camera.distortion + step[7]),
    )


def fit_edges(
    camera: Camera, picture: NDArray[np.float32], least: float
) -> tuple[Camera, Edges] | None:
    """Fit a camera to the edges of the lines; None where it runs away.

    Gauss-Newton steps with weights after Geman and McClure, the search growing narrower.
    """
    unit = max(camera.image_size) / 1280
    for reach in (7.0, 7.0, 4.0, 4.0, 2.5, 2.5):
        edges = _look_for_edges(camera, picture, reach * unit, least)
        seen = np.isfinite(edges.offset)
        if seen.sum() < 12:
            return None
        flat = np.column_stack([EDGES[edges.sample[seen]], np.zeros(seen.sum())])
        jacobian = point_jacobian(camera, flat, edges.normal[seen])
        offset = edges.offset[seen]
        spread = max(1.4826 * float(np.median(np.abs(offset))), 0.25 * unit)
        weight = 1.0 / (1.0 + (offset / (2.0 * spread)) ** 2) ** 2
        noise = max(spread, 0.3 * unit)
        information, gradient = with_priors(camera, jacobian, offset, weight / noise**2)
        step = _step(information, gradient)
        if np.abs(step[0]) > 0.5 or np.linalg.norm(step[1:4]) > 0.3:
            return None
        camera = _moved_camera(camera, step)
        if not _sane(camera):
            return None
    return camera, _look_for_edges(camera, picture, 2.5 * unit, least)


def _step(information: FloatArray, gradient: FloatArray) -> FloatArray:
    """The step that normal equations ask for, the shortest where they leave some of it open."""
    scale = 1 / np.sqrt(np.maximum(np.diag(information), 1e-12))
    scaled = information * scale[:, None] * scale[None]
    step: FloatArray = np.linalg.lstsq(scaled, gradient * scale, rcond=1e-10)[0] * scale
    return step


def with_priors(
    camera: Camera, jacobian: FloatArray, offset: FloatArray, weight: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Normal equations of edges that are found `offset` outwards, with the priors' share."""
    information = (jacobian * weight[:, None]).T @ jacobian
    gradient = (jacobian * weight[:, None]).T @ offset
    relative = camera.matrix[0, 0] / max(camera.image_size)
    information[0, 0] += FOCAL_SPREAD**-2
    gradient[0] -= np.log(relative / USUAL_FOCAL) / FOCAL_SPREAD**2
    information[7, 7] += _DISTORTION_SPREAD**-2
    gradient[7] -= camera.distortion / _DISTORTION_SPREAD**2
    return information, gradient


def drawn_to(camera: Camera, homography: FloatArray) -> Camera:
    """The camera nearby that shows the court's lines where a homography shows them.

    Steps after Levenberg and Marquardt.
    """
    homogeneous = np.column_stack([SAMPLES, np.ones(len(SAMPLES))]) @ homography.T
    with np.errstate(divide="ignore", invalid="ignore"):
        target = homogeneous[:, :2] / homogeneous[:, 2:]
        inside = ((target > 0) & (target < np.array(camera.image_size))).all(axis=1)
    flat = np.column_stack([SAMPLES, np.zeros(len(SAMPLES))])
    inside &= (homogeneous[:, 2] > 0) & (depth(camera, flat) > 0.2)
    flat, target = flat[inside], target[inside]
    error = _misses(camera, flat, target)
    damping = 1e-3
    for _ in range(12):
        jacobian = projection_parameter_jacobian(camera, flat).reshape(-1, 7)
        information = jacobian.T @ jacobian
        information += damping * np.diag(np.diag(information)) + 1e-9 * np.eye(7)
        step = np.linalg.solve(information, jacobian.T @ error.ravel())
        moved = _moved_camera(camera, np.append(step, 0.0))
        moved_error = _misses(moved, flat, target)
        if _sane(moved) and np.sum(moved_error**2) < np.sum(error**2):
            camera, error = moved, moved_error
            damping /= 5
        else:
            damping *= 10
    return camera


def _misses(camera: Camera, places: FloatArray, pixels: FloatArray) -> FloatArray:
    """By how much a camera shows places (n, 3) beside pixels (n, 2), huge behind the camera."""
    return np.asarray(np.nan_to_num(pixels - project(camera, places), nan=1e6))


def settled_camera(camera: Camera, stripes: Stripes) -> Camera | None:
    """Fit a camera to the middles of stripes, from farther away than edges allow."""
    unit = max(camera.image_size) / 1280
    start = stripes.ends[:, 0]
    length = stripes.length
    along = (stripes.ends[:, 1] - start) / length[:, None]
    normal = np.column_stack([-along[:, 1], along[:, 0]])
    flat = np.column_stack([SAMPLES, np.zeros(len(SAMPLES))])
    aside = flat.copy()
    aside[:, :2] += 0.1 * SAMPLE_DIRECTIONS
    for reach in (8.0, 7.0, 6.0, 5.0, 4.0, 3.0):
        in_front = np.minimum(depth(camera, flat), depth(camera, aside)) > 0.2
        with np.errstate(invalid="ignore"):
            pixel, side = project(camera, flat), project(camera, aside)
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
        hit = np.flatnonzero(away[np.arange(len(sample)), nearest] < reach * unit)
        if len(hit) < 10:
            return None
        chosen = nearest[hit]
        edges = Edges(sample[hit], pixel[hit], normal[chosen], -off[hit, chosen], np.ones(len(hit)))
        jacobian = point_jacobian(camera, flat[sample[hit]], normal[chosen])
        weight = 1.0 / (1.0 + (edges.offset / (0.4 * reach * unit)) ** 2) ** 2 / unit**2
        information, gradient = with_priors(camera, jacobian, edges.offset, weight)
        camera = _moved_camera(camera, np.clip(_step(information, gradient), -0.5, 0.5))
        if not _sane(camera):
            return None
    return camera


def _sane(camera: Camera) -> bool:
    """Whether a phone could be such a camera."""
    relative = camera.matrix[0, 0] / max(camera.image_size)
    return bool(
        FOCAL_RANGE[0] < relative < FOCAL_RANGE[1]
        and abs(camera.distortion) < 0.2
        and 0.2 < camera_centre(camera)[2] < 15
    )


def point_jacobian(camera: Camera, flat: FloatArray, normal: FloatArray) -> FloatArray:
    """How far points (n, 3) move along normals (n, 2) when the eight numbers change: (n, 8)."""
    by_camera = projection_parameter_jacobian(camera, flat)
    seen = flat @ camera.rotation.T + camera.translation
    plane = seen[:, :2] / seen[:, 2:]
    squared = np.minimum(np.sum(plane**2, axis=1), 1.0)
    by_distortion = camera.matrix[0, 0] * plane * squared[:, None]
    whole = np.concatenate([by_camera, by_distortion[..., None]], axis=-1)
    return np.asarray(np.einsum("nk,nkp->np", normal, whole))
