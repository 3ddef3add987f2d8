"""The edges of the painted lines in the picture, where a camera puts them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stance.court.camera import Camera, depth, project
from stance.court.detection.line_samples import LINE_EDGES
from stance.court.detection.net_tape import is_behind_tape
from stance.court.detection.stripes import sample_picture
from stance.court.floor_error import on_floor
from stance.types import FloatArray


@dataclass(frozen=True, eq=False)
class Edges:
    """What the picture shows where a camera puts the edges of the court's lines.

    Attributes
    ----------
    sample
        (n,) which of the `LINE_EDGES` are in the picture.
    normal
        (n, 2) unit vectors outwards from the line, in the picture.
    offset
        (n,) how far outwards the edge is found, pixels; NaN where there is none.
    length
        (n,) pixels of line that a sample stands for.
    """

    sample: NDArray[np.intp]
    normal: FloatArray
    offset: FloatArray
    length: FloatArray


def locate_edges(
    camera: Camera, picture: NDArray[np.float32], reach: float, least_step: float
) -> Edges:
    """Look for the edges of the court's lines around where a camera puts them.

    Parameters
    ----------
    picture
        (height, width) in which lines are brighter than the floor.
    reach
        how far from the expected place, pixels.
    least_step
        smallest step in brightness of an edge.
    """
    flat = on_floor(LINE_EDGES.places)
    outwards = LINE_EDGES.directions
    outer = on_floor(LINE_EDGES.places + 0.02 * outwards)
    beside = on_floor(
        LINE_EDGES.places + 0.125 * np.column_stack([-outwards[:, 1], outwards[:, 0]])
    )
    in_front = np.minimum(depth(camera, flat), depth(camera, outer)) > 0.2
    with np.errstate(invalid="ignore"):
        pixel, out, side = (project(camera, places) for places in (flat, outer, beside))
        inside = (pixel > 3).all(axis=1) & (pixel < np.array(camera.image_size) - 3).all(axis=1)
    inside &= np.isfinite(side).all(axis=1) & ~is_behind_tape(camera, flat)
    sample = np.flatnonzero(in_front & inside)
    pixel, out, side = pixel[sample], out[sample], side[sample]
    along = side - pixel
    half_length = np.linalg.norm(along, axis=1)
    along /= np.maximum(half_length, 1e-9)[:, None]
    normal = np.column_stack([-along[:, 1], along[:, 0]])
    width = np.einsum("nk,nk->n", out - pixel, normal) * 2
    normal *= np.sign(width)[:, None]
    width = np.abs(width)
    offset = _find_offsets(picture, pixel, normal, reach, least_step)
    # Lines too thin to be seen for sure say less, whether they are found or not.
    length = np.minimum(2 * half_length, 0.08 * max(camera.image_size)) / 2
    length *= np.clip((width - 0.5) / 1.0, 0.0, 1.0)
    return Edges(sample, normal, np.where(width > 0.7, offset, np.nan), length)


def _find_offsets(
    picture: NDArray[np.float32],
    pixel: FloatArray,
    normal: FloatArray,
    reach: float,
    least_step: float,
) -> FloatArray:
    """How far along normals (n, 2) from pixels (n, 2) the picture grows darker: (n,), or NaN."""
    steps = np.arange(-reach - 1, reach + 1.01, 0.5)
    profile = sample_picture(picture, pixel[:, None] + steps[None, :, None] * normal[:, None])
    slope = profile[:, :-4] - profile[:, 4:]
    at = steps[2:-2]
    # The nearest strong edge counts most.
    rated = slope * np.exp(-0.5 * (at / reach) ** 2)
    best = np.argmax(rated, axis=1)
    inner = np.clip(best, 1, len(at) - 2)
    row = np.arange(len(pixel))
    # A parabola through the steepest place and its neighbours.
    before, here, after = (slope[row, inner + k] for k in (-1, 0, 1))
    curve = before - 2 * here + after
    step = np.where(curve < -1e-6, 0.5 * (before - after) / np.minimum(curve, -1e-6), 0.0)
    offset = at[inner] + 0.5 * np.clip(step, -1, 1)
    found = (slope[row, best] > least_step) & (best > 0) & (best < len(at) - 1)
    return np.where(found, offset, np.nan)
