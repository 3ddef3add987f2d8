"""The two directions of a court's lines: vanishing points and what they say of the lens."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stance.court.detection.stripes import Stripes
from stance.court.pose import FOCAL_RANGE
from stance.types import FloatArray


@dataclass(frozen=True, eq=False)
class CourtAxes:
    """Two directions on the floor at right angles, and the places of pixels along them.

    A pixel's place is (u, v); u grows to the right of one who looks along v. Both are lengths on
    the floor in camera heights, times unknown factors.

    Attributes
    ----------
    to_floor
        (3, 3) takes homogeneous pixels to (u, v, 1) up to scale.
    ratio
        (smallest, largest) of u's factor by v's.
    """

    to_floor: FloatArray
    ratio: tuple[float, float]


def find_vanishing_points(
    stripes: Stripes, image_size: tuple[int, int], most: int = 6
) -> FloatArray:
    """Where stripes point to, the point of most length of stripes first.

    Every pair of the longest stripes proposes a point; stripes vote for those that they point to,
    and each point is refined on its voters by least squares.

    Parameters
    ----------
    image_size
        (width, height), pixels.
    most
        number of points.

    Returns
    -------
    (n, 3) unit rays in a camera whose focal length is the long side of the picture.
    """
    long_side = max(image_size)
    centre = np.array(image_size) / 2
    ends = (stripes.ends - centre) / long_side
    rays = np.concatenate([ends, np.ones((*ends.shape[:2], 1))], axis=-1)
    lines = np.cross(rays[:, 0], rays[:, 1])
    lines /= np.linalg.norm(lines[:, :2], axis=1, keepdims=True)
    length = stripes.length / long_side
    order = np.argsort(-length)[:90]
    i, j = (order[k] for k in np.triu_indices(len(order), 1))
    candidates = np.cross(lines[i], lines[j])
    norm = np.linalg.norm(candidates, axis=1)
    candidates = candidates[norm > 1e-3] / norm[norm > 1e-3, None]
    if not len(candidates):
        return np.zeros((0, 3))
    middle = rays.mean(axis=1)
    along = (ends[:, 1] - ends[:, 0]) / length[:, None]
    weight = np.minimum(length, 0.25)
    votes = _point_at(candidates, middle, along, length)
    found = []
    free = np.ones(len(stripes), bool)
    for _ in range(most):
        support = (votes & free) @ weight
        best = int(np.argmax(support))
        members = votes[best]
        if (members & free).sum() < 2:
            break
        point = candidates[best]
        for _ in range(3):
            own = members
            if own.sum() < 2:
                break
            # Least squares on lines, each weighed by how well its direction is known.
            scaled = lines[own] * (length[own] ** 1.5)[:, None]
            reach = np.linalg.norm(point[:2] - point[2] * middle[own][:, :2], axis=1)
            scaled /= np.maximum(reach, 1e-3)[:, None]
            point = np.linalg.svd(scaled)[2][-1]
            members = _point_at(point[None], middle, along, length)[0]
        found.append(point)
        free &= ~(members | votes[best])
    return np.array(found).reshape(-1, 3)


def find_court_axes(
    across: FloatArray, along: FloatArray, image_size: tuple[int, int]
) -> CourtAxes | None:
    """Axes from two vanishing points.

    Parameters
    ----------
    across, along
        (3,) rays as of `find_vanishing_points`, to where the lines along x and those along y point.
    image_size
        (width, height), pixels.

    Returns
    -------
    None where no upright phone could see these two directions at right angles on a floor.
    """
    long_side = max(image_size)
    v_x, v_y = across, along
    normal = np.cross(v_x, v_y)
    normal /= np.linalg.norm(normal)
    if normal[1] > 0:
        normal = -normal
    # The horizon may be tilted by 25 degrees; the camera looks down by less than 60.
    if abs(normal[0]) > np.sin(np.radians(25)) * np.hypot(normal[0], normal[1]):
        return None
    focal = _find_focal_range(v_x, v_y)
    if focal is None:
        return None
    # x cross y = z; z is up.
    if np.cross(v_x, v_y) @ normal < 0:
        v_x = -v_x
    matrix = np.column_stack([v_x / np.linalg.norm(v_x), v_y / np.linalg.norm(v_y), -normal])
    centre = np.array(image_size) / 2
    to_rays = np.array([[1, 0, -centre[0]], [0, 1, -centre[1]], [0, 0, long_side]]) / long_side
    to_floor = np.linalg.inv(matrix) @ to_rays
    ratios = [_find_ratio(v_x, v_y, to_floor, f, image_size) for f in focal]
    low, high = min(ratios), max(ratios)
    return CourtAxes(to_floor, (low / 1.12, high * 1.12))


def locate_on_axes(axes: CourtAxes, pixels: FloatArray) -> FloatArray:
    """Places on the axes of pixels.

    Parameters
    ----------
    pixels
        (..., 2).

    Returns
    -------
    (..., 2) u and v; NaN above the horizon.
    """
    homogeneous = np.concatenate([pixels, np.ones_like(pixels[..., :1])], axis=-1)
    places = homogeneous @ axes.to_floor.T
    below = places[..., 2:] > 1e-4
    result: FloatArray = np.where(
        below, places[..., :2] / np.where(below, places[..., 2:], 1), np.nan
    )
    return result


def _point_at(
    points: FloatArray, middle: FloatArray, along: FloatArray, length: FloatArray
) -> NDArray[np.bool_]:
    """Whether stripes (columns) point at rays (points, 3), which may be at infinity.

    `middle` (n, 3), `along` (n, 2) and `length` (n,) of the stripes are in long sides.
    """
    to_point = points[:, None, :2] - points[:, None, 2:] * middle[None, :, :2]
    to_point /= np.maximum(np.linalg.norm(to_point, axis=-1, keepdims=True), 1e-12)
    sine = np.abs(to_point[..., 0] * along[:, 1] - to_point[..., 1] * along[:, 0])
    # An end may miss by 1.5 pixels of 1280, more where the lens bends long lines.
    allowed = np.minimum(0.0024 / length + 0.004, 0.06)
    return np.asarray(sine < allowed)


def _find_focal_range(v_x: FloatArray, v_y: FloatArray) -> tuple[float, float] | None:
    """Focal lengths, in long sides, that see two directions at right angles, with a margin."""
    shortest, longest = 0.5, FOCAL_RANGE[1]
    product = -(v_x[0] * v_y[0] + v_x[1] * v_y[1])
    depths = v_x[2] * v_y[2]
    # Directions of points far outside the picture are known less well.
    far = max(np.hypot(*v[:2]) / max(abs(v[2]), 1e-9) for v in (v_x, v_y))
    slack = 0.12 + 0.06 * far
    if slack > 1.0 or abs(depths) < 1e-9:
        return shortest, longest
    squared = product / depths
    spread = slack * (1.0 + abs(squared))
    low, high = np.sqrt(max(squared - spread, 0.0)), np.sqrt(max(squared + spread, 0.0))
    low, high = max(low, shortest), min(high, longest)
    return (float(low), float(high)) if low < high else None


def _find_ratio(
    v_x: FloatArray,
    v_y: FloatArray,
    to_floor: FloatArray,
    focal: float,
    image_size: tuple[int, int],
) -> float:
    """Factor of u by factor of v in axes made for a focal length of 1, if it is `focal`."""
    stretch = np.diag([1.0, 1.0, focal])
    x, y = stretch @ v_x, stretch @ v_y
    x, y = x / np.linalg.norm(x), y / np.linalg.norm(y)
    normal = np.cross(x, y)
    normal /= np.linalg.norm(normal)
    # Pixels of the points (1, 0), (0, 1) and (0, 0) in the axes made for 1, then their true place.
    pixels = np.linalg.inv(to_floor) @ np.array([[1.0, 0, 0], [0, 1, 0], [1, 1, 1]])
    long_side = max(image_size)
    width, height = image_size
    rays = np.array([[1, 0, -width / 2], [0, 1, -height / 2], [0, 0, long_side * focal]]) @ pixels
    places = np.linalg.solve(np.column_stack([x, y, -normal]), rays)
    u, v = places[0] / places[2], places[1] / places[2]
    # How much longer a unit of u is, by how much longer a unit of v is; with true lengths equal.
    return float(abs((v[1] - v[2]) / (u[0] - u[2])))
