"""Finds the court in a still picture: which painted line is which, and the camera that saw it.

Edges in the picture pair up to stripes, whatever their colour; stripes of one colour point to a
few vanishing points; two of these, at right angles on the floor, turn the stripes' places into
numbers along two axes, in which the court's lines are sought. Every reading is scored by how well
the whole projected court explains the picture: lines that ought to be seen and are, lines that
ought to be seen and are not, stripes on the court that it leaves unexplained. The best readings
are fitted to both edges of the lines, with a bent lens, and scored again. What two readings
explain about equally well is refused.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

import cv2
import numpy as np
import scipy
from numpy.typing import NDArray

from stance.camera import (
    Array,
    Camera,
    camera_centre,
    depth,
    floor_point,
    project,
    projection_parameter_jacobian,
    turned_180,
)
from stance.court import (
    COURT_LENGTH,
    COURT_WIDTH,
    FOCAL_RANGE,
    FOCAL_SPREAD,
    LINE_WIDTH,
    NET_HEIGHT_MIDDLE,
    NET_HEIGHT_POST,
    SHORT_SERVICE_DISTANCE,
    USUAL_FOCAL,
    CalibratedCourt,
    court_lines,
    floor_direction_error,
)

Picture = NDArray[np.uint8]

# The long side of the picture that is searched; larger pictures are made smaller.
_WORKING_SIDE = 1920

# Middles of the lines along the court (x) and across it (y), metres.
_ALONG = np.array(sorted({round(sum(k.x) / 2, 4) for k in court_lines() if k.x[1] - k.x[0] < 1}))
_ACROSS = np.array(sorted({round(sum(k.y) / 2, 4) for k in court_lines() if k.y[1] - k.y[0] < 1}))


@dataclass(frozen=True)
class _Stripes:
    """Painted stripes, or what looks like them: n pairs of facing edges.

    `ends` (n, 2, 2) the ends of the middle line, pixels; `width` (n,) pixels; `inside` and
    `outside` (n, 3) colours on and beside the stripe, CIE L*a*b*.
    """

    ends: Array
    width: Array
    inside: Array
    outside: Array

    def __len__(self) -> int:
        return len(self.width)

    @property
    def middle(self) -> Array:
        """(n, 2) pixels."""
        return np.asarray(self.ends.mean(axis=1))

    @property
    def length(self) -> Array:
        """(n,) pixels."""
        return np.asarray(np.linalg.norm(self.ends[:, 1] - self.ends[:, 0], axis=1))

    def part(self, chosen: NDArray[Any]) -> _Stripes:
        """The chosen stripes, by index or mask."""
        return _Stripes(
            self.ends[chosen], self.width[chosen], self.inside[chosen], self.outside[chosen]
        )


def _find_stripes(lab: NDArray[np.float32]) -> _Stripes:
    """Pairs of facing edges in a picture (h, w, 3) in CIE L*a*b*."""
    edges = _edge_segments(lab)
    long_side = max(lab.shape[:2])
    if len(edges) < 2:
        return _Stripes(np.zeros((0, 2, 2)), np.zeros(0), np.zeros((0, 3)), np.zeros((0, 3)))
    first, second = edges[:, 0], edges[:, 1]
    length = np.linalg.norm(second - first, axis=1)
    along = (second - first) / length[:, None]
    normal = np.column_stack([-along[:, 1], along[:, 0]])
    middle = (first + second) / 2
    facing = along @ along.T < -np.cos(np.radians(5.0))
    # Along and across edge i (rows): the ends of edge j (columns).
    offset = np.einsum("ik,ijk->ij", normal, middle[None] - middle[:, None])
    begins = np.einsum("ik,ijk->ij", along, first[None] - first[:, None])
    stops = np.einsum("ik,ijk->ij", along, second[None] - first[:, None])
    low = np.maximum(np.minimum(begins, stops), 0.0)
    high = np.minimum(np.maximum(begins, stops), length[:, None])
    overlap = high - low
    distance = np.abs(offset)
    possible = facing & (distance > 0.7) & (distance < 0.035 * long_side)
    possible &= overlap > np.maximum(0.006 * long_side, 1.5 * distance)
    # The nearest facing edge on each side; with gaps in edges there may be several beside it.
    chosen = []
    for side in (offset > 0, offset < 0):
        nearest = np.where(possible & side, distance, np.inf).min(axis=1)
        chosen.append(possible & side & (distance <= 1.25 * nearest[:, None] + 0.5))
    mutual = (chosen[0] | chosen[1]) & (chosen[0] | chosen[1]).T
    i, j = np.nonzero(np.triu(mutual))
    if not len(i):
        return _Stripes(np.zeros((0, 2, 2)), np.zeros(0), np.zeros((0, 3)), np.zeros((0, 3)))
    ends, widths = [], []
    for at in (low[i, j], high[i, j]):
        here = first[i] + at[:, None] * along[i]
        # Where edge j is beside that place.
        t = np.einsum("nk,nk->n", here - first[j], along[j])
        there = first[j] + t[:, None] * along[j]
        ends.append((here + there) / 2)
        widths.append(np.einsum("nk,nk->n", there - here, normal[i]))
    same_sign = widths[0] * widths[1] > 0
    ends_array = np.stack(ends, axis=1)[same_sign]
    width = np.abs(np.mean(widths, axis=0))[same_sign]
    inside, outside, distinct = _stripe_colours(lab, ends_array, width)
    stripes = _Stripes(ends_array, width, inside, outside).part(distinct)
    return stripes


def _edge_segments(lab: NDArray[np.float32]) -> Array:
    """Straight edges (n, 2, 2) pixels, the longest first, dark on the same side of each."""
    long_side = max(lab.shape[:2])
    detector = cv2.createLineSegmentDetector(cv2.LSD_REFINE_STD)
    found = detector.detect(np.clip(lab[..., 0] * 2.55, 0, 255).astype(np.uint8))[0]
    if found is None:
        return np.zeros((0, 2, 2))
    # OpenCV counts from the middle of the top left pixel.
    segments = found.reshape(-1, 2, 2).astype(float) + 0.5
    length = np.linalg.norm(segments[:, 1] - segments[:, 0], axis=1)
    order = np.argsort(-length)
    order = order[length[order] > 0.008 * long_side][:1600]
    return np.asarray(segments[order])


def _sample(picture: NDArray[np.float32], places: Array) -> NDArray[np.float32]:
    """The picture (h, w, ...) at places (..., 2) in pixels, bilinear, edges repeated."""
    shape = places.shape[:-1]
    if not places.size:
        return np.zeros((*shape, *picture.shape[2:]), np.float32)
    flat = places.reshape(-1, 1, 2).astype(np.float32) - np.float32(0.5)
    rows = max(1, -(-len(flat) // 16384))
    padded = np.zeros((rows * 16384 if rows > 1 else len(flat), 1, 2), np.float32)
    padded[: len(flat)] = flat
    grid = padded.reshape(rows, -1, 2)
    sampled = cv2.remap(picture, grid, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    sampled = sampled.reshape(-1, *picture.shape[2:])[: len(flat)]
    return np.asarray(sampled.reshape(*shape, *picture.shape[2:]))


def _stripe_colours(
    lab: NDArray[np.float32], ends: Array, width: Array
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Colours inside and beside stripes (n, 3), and whether the inside differs from both sides."""
    along = ends[:, 1] - ends[:, 0]
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    normal = np.column_stack([-along[:, 1], along[:, 0]])
    places = ends[:, None, 0] + np.linspace(0.1, 0.9, 7)[None, :, None] * (
        ends[:, None, 1] - ends[:, None, 0]
    )
    away = (width / 2 + np.maximum(1.5, 0.6 * width))[:, None, None] * normal[:, None]
    inside = np.median(_sample(lab, places), axis=1)
    left = np.median(_sample(lab, places - away), axis=1)
    right = np.median(_sample(lab, places + away), axis=1)
    agreement = np.einsum("nk,nk->n", inside - left, inside - right)
    least = np.minimum(
        np.linalg.norm(inside - left, axis=1), np.linalg.norm(inside - right, axis=1)
    )
    distinct = (agreement > 0) & (least > 2.5)
    outside = (left + right) / 2
    return inside.astype(float), outside.astype(float), distinct


@dataclass(frozen=True)
class _Colour:
    """Stripes of one colour: the colour (3,) in L*a*b*, and which stripes (n,) may have it."""

    colour: Array
    members: NDArray[np.bool_]


def _line_colours(stripes: _Stripes, most: int = 5) -> list[_Colour]:
    """Colours of lines, the one with the most length first.

    Thin stripes are a mixture of line and floor, so a stripe belongs to a colour if it lies
    between that colour and the floor beside it.
    """
    length = stripes.length
    scale = np.array([0.6, 1.0, 1.0])
    wide = np.flatnonzero(stripes.width > 2.0)
    if len(wide) < 4:
        wide = np.arange(len(stripes))
    wide = wide[np.argsort(-length[wide])][:400]
    inside = stripes.inside[wide] * scale
    hierarchy = scipy.cluster.hierarchy
    labels = (
        hierarchy.fcluster(hierarchy.linkage(inside, "average"), 16.0, "distance")
        if len(wide) > 1
        else np.ones(len(wide), int)
    )
    found: list[_Colour] = []
    for label in np.unique(labels):
        own = labels == label
        weight = length[wide[own]]
        colour = np.average(inside[own], axis=0, weights=weight)
        towards = colour - stripes.outside * scale
        contrast = (stripes.inside - stripes.outside) * scale
        squared = np.maximum(np.sum(towards**2, axis=1), 1e-6)
        share = np.sum(contrast * towards, axis=1) / squared
        rest = np.linalg.norm(contrast - share[:, None] * towards, axis=1)
        members = (share > 0.2) & (rest < 10.0) & (share * np.sqrt(squared) > 2.5)
        members &= np.abs(share - 1) * np.sqrt(squared) < np.where(stripes.width > 5, 18, 60)
        if length[members].sum() > 0:
            found.append(_Colour(colour / scale, members))
    found.sort(key=lambda entry: -float(length[entry.members].sum()))
    kept: list[_Colour] = []
    for entry in found:
        shared = [
            length[entry.members & other.members].sum()
            / max(length[entry.members | other.members].sum(), 1e-9)
            for other in kept
        ]
        if all(share < 0.85 for share in shared):
            kept.append(entry)
    return kept[:most]


def _vanishing_points(stripes: _Stripes, size: tuple[int, int], most: int = 6) -> Array:
    """Where stripes point to: (n, 3) rays in a camera whose focal length is the long side."""
    long_side = max(size)
    centre = np.array(size) / 2
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

    def agreeing(points: Array) -> NDArray[np.bool_]:
        """Whether stripes (columns) point to rays (rows)."""
        # Direction from a stripe's middle to the point, which may be at infinity.
        to_point = points[:, None, :2] - points[:, None, 2:] * middle[None, :, :2]
        to_point /= np.maximum(np.linalg.norm(to_point, axis=-1, keepdims=True), 1e-12)
        sine = np.abs(to_point[..., 0] * along[:, 1] - to_point[..., 1] * along[:, 0])
        # An end may miss by 1.5 pixels of 1280, more where the lens bends long lines.
        allowed = np.minimum(0.0024 / length + 0.004, 0.06)
        return np.asarray(sine < allowed)

    votes = agreeing(candidates)
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
            members = agreeing(point[None])[0]
        found.append(point)
        free &= ~(members | votes[best])
    return np.array(found).reshape(-1, 3)


@dataclass(frozen=True)
class _Axes:
    """Two directions on the floor, and the places of stripes along them.

    A pixel's place is (u, v): `to_floor` (3, 3) takes homogeneous pixels to (u, v, 1) up to scale;
    u grows to the right of one who looks along v. Both are lengths on the floor in camera heights,
    times unknown factors whose ratio (u's by v's) lies in `ratio`.
    """

    to_floor: Array
    ratio: tuple[float, float]


def _axes(
    across: Array, along: Array, size: tuple[int, int]
) -> _Axes | None:
    """Axes from the vanishing points (3,) of the lines along x and along y, or None.

    None where no upright phone could see these two directions at right angles on a floor.
    """
    long_side = max(size)
    v_x, v_y = across, along
    normal = np.cross(v_x, v_y)
    normal /= np.linalg.norm(normal)
    if normal[1] > 0:
        normal = -normal
    # The horizon may be tilted by 25 degrees; the camera looks down by less than 60.
    if abs(normal[0]) > np.sin(np.radians(25)) * np.hypot(normal[0], normal[1]):
        return None
    focal = _focal_range(v_x, v_y)
    if focal is None:
        return None
    # x cross y = z; z is up.
    if np.cross(v_x, v_y) @ normal < 0:
        v_x = -v_x
    matrix = np.column_stack([v_x / np.linalg.norm(v_x), v_y / np.linalg.norm(v_y), -normal])
    centre = np.array(size) / 2
    to_rays = np.array(
        [[1, 0, -centre[0]], [0, 1, -centre[1]], [0, 0, long_side]]
    ) / long_side
    to_floor = np.linalg.inv(matrix) @ to_rays
    ratios = [_true_ratio(v_x, v_y, to_floor, f, size) for f in focal]
    low, high = min(ratios), max(ratios)
    return _Axes(to_floor, (low / 1.12, high * 1.12))


def _focal_range(v_x: Array, v_y: Array) -> tuple[float, float] | None:
    """Focal lengths, in long sides, that see two directions at right angles, with a margin."""
    shortest, longest = 0.5, 2.3
    product = -(v_x[0] * v_y[0] + v_x[1] * v_y[1])
    depths = v_x[2] * v_y[2]
    # Directions of points far outside the picture are known less well.
    far = max(
        np.hypot(*v[:2]) / max(abs(v[2]), 1e-9) for v in (v_x, v_y)
    )
    slack = 0.12 + 0.06 * far
    if slack > 1.0 or abs(depths) < 1e-9:
        return shortest, longest
    squared = product / depths
    spread = slack * (1.0 + abs(squared))
    low, high = np.sqrt(max(squared - spread, 0.0)), np.sqrt(max(squared + spread, 0.0))
    low, high = max(low, shortest), min(high, longest)
    return (float(low), float(high)) if low < high else None


def _true_ratio(
    v_x: Array, v_y: Array, to_floor: Array, focal: float, size: tuple[int, int]
) -> float:
    """Factor of u by factor of v in axes made for a focal length of 1, if it is `focal`."""
    stretch = np.diag([1.0, 1.0, focal])
    x, y = stretch @ v_x, stretch @ v_y
    x, y = x / np.linalg.norm(x), y / np.linalg.norm(y)
    normal = np.cross(x, y)
    normal /= np.linalg.norm(normal)
    # Pixels of the points (1, 0), (0, 1) and (0, 0) in the axes made for 1, then their true place.
    pixels = np.linalg.inv(to_floor) @ np.array([[1.0, 0, 0], [0, 1, 0], [1, 1, 1]])
    long_side = max(size)
    rays = np.array(
        [[1, 0, -size[0] / 2], [0, 1, -size[1] / 2], [0, 0, long_side * focal]]
    ) @ pixels
    places = np.linalg.solve(np.column_stack([x, y, -normal]), rays)
    u, v = places[0] / places[2], places[1] / places[2]
    # How much longer a unit of u is, by how much longer a unit of v is; with true lengths equal.
    return float(abs((v[1] - v[2]) / (u[0] - u[2])))


@dataclass(frozen=True)
class _Family:
    """Lines that run the same way.

    `place` (n,) sorted; `weight` (n,) the longer the heavier; `pixel` (n,) size of a pixel there;
    `width` (n,) of the line, NaN where it is too thin in the picture to be measured.
    """

    place: Array
    weight: Array
    pixel: Array
    width: Array


def _family(
    axes: _Axes, stripes: _Stripes, axis: int, size: tuple[int, int]
) -> tuple[_Family, NDArray[np.bool_]]:
    """Lines with a constant u (axis 0) or v (axis 1), and which stripes (n,) make them up."""
    ends = _on_axes(axes, stripes.ends)
    below = np.isfinite(ends).all(axis=(1, 2))
    along = ends[:, 1] - ends[:, 0]
    middle = stripes.middle
    pixels = np.stack([middle, middle + [1.0, 0], middle + [0, 1.0]], axis=1)
    places = _on_axes(axes, pixels)
    with np.errstate(invalid="ignore"):
        pixel = np.hypot(*(places[:, k, axis] - places[:, 0, axis] for k in (1, 2)))
        # The middle line runs the right way if its ends differ by less than their noise.
        off = np.abs(along[:, axis]) / np.maximum(pixel, 1e-12)
        allowed = 2.5 * max(size) / 1280 + 0.008 * stripes.length
        steep = np.abs(along[:, axis]) < np.abs(along[:, 1 - axis])
        member = below & (off < allowed) & steep & (pixel > 0)
    index = np.flatnonzero(member)
    index = index[np.argsort(places[index, 0, axis])]
    place, length, noise = places[index, 0, axis], stripes.length[index], pixel[index]
    width = np.where(stripes.width > 4.0, _floor_width(axes, stripes, axis), np.nan)[index]
    groups: list[list[int]] = []
    for k in range(len(index)):
        if groups:
            own = groups[-1]
            centre = np.average(place[own], weights=length[own])
            if place[k] - centre < 3.0 * max(size) / 1280 * max(noise[k], min(noise[own])):
                own.append(k)
                continue
        groups.append([k])
    family = _Family(
        np.array([np.average(place[g], weights=length[g]) for g in groups]),
        np.array([min(length[g].sum() / max(size), 0.5) for g in groups]),
        np.array([min(noise[g]) for g in groups]),
        np.array([_mean_known(width[g], length[g]) for g in groups]),
    )
    return family, member


def _floor_width(axes: _Axes, stripes: _Stripes, axis: int) -> Array:
    """Widths (n,) of stripes along an axis."""
    direction = stripes.ends[:, 1] - stripes.ends[:, 0]
    direction /= np.linalg.norm(direction, axis=1, keepdims=True)
    half = stripes.width[:, None] / 2 * np.column_stack([-direction[:, 1], direction[:, 0]])
    places = _on_axes(axes, np.stack([stripes.middle - half, stripes.middle + half]))
    widths: Array = np.abs(places[1] - places[0])[:, axis]
    return widths


def _mean_known(width: Array, length: Array) -> float:
    """Mean of the known widths, weighed by length; NaN where none is known."""
    known = np.isfinite(width)
    return float(np.average(width[known], weights=length[known])) if known.any() else float("nan")


def _on_axes(axes: _Axes, pixels: Array) -> Array:
    """Places (..., 2) on the axes of pixels (..., 2); NaN above the horizon."""
    homogeneous = np.concatenate([pixels, np.ones_like(pixels[..., :1])], axis=-1)
    places = homogeneous @ axes.to_floor.T
    below = places[..., 2:] > 1e-4
    result: Array = np.where(below, places[..., :2] / np.where(below, places[..., 2:], 1), np.nan)
    return result


def _readings(family: _Family, lines: Array, size: tuple[int, int], most: int) -> Array:
    """Ways to read a family's places as court lines: (n, 3) scale, offset and score.

    place = scale * line + offset; every pair of places is tried as every pair of lines.
    """
    heaviest = np.sort(np.argsort(-family.weight)[:16])
    place, weight, pixel, width = (
        values[heaviest] for values in (family.place, family.weight, family.pixel, family.width)
    )
    if len(place) < 2:
        return np.zeros((0, 3))
    i, j = np.triu_indices(len(place), 1)
    p, q = np.triu_indices(len(lines), 1)
    scale = ((place[j] - place[i])[:, None] / (lines[q] - lines[p])).ravel()
    offset = (place[i][:, None] - (place[j] - place[i])[:, None] / (lines[q] - lines[p]) * lines[p])
    offset = offset.ravel()
    expected = scale[:, None] * lines + offset[:, None]
    tolerance = 4.0 * max(size) / 1280 * pixel
    miss = np.abs(expected[:, :, None] - place[None, None]) / tolerance
    fit = np.maximum(1.0 - miss, 0.0).max(axis=1)
    # Painted lines are 40 mm wide (Law 1.2), give or take blur and worn paint.
    wider = np.log(width / (LINE_WIDTH * scale[:, None])) / 0.35
    score = (fit * np.where(np.isnan(wider), 1.0, np.exp(-0.5 * wider**2))) @ weight
    # Two places that are one line read twice explain nothing more.
    order = np.argsort(-score)[: 4 * most]
    order = order[score[order] > 0.3 * score[order[0]]]
    return np.asarray(np.column_stack([scale, offset, score])[order][:most])


def _line_samples(step: float = 0.25) -> tuple[Array, Array, NDArray[np.intp]]:
    """Points on the middles of the court's lines, between crossings.

    Returns
    -------
    (n, 2) metres; (n, 2) unit vectors along the line; (n,) number of the line.
    """
    points, directions, numbers = [], [], []
    for number, line in enumerate(court_lines()):
        middle = np.array([sum(line.x) / 2, sum(line.y) / 2])
        extent = np.array([line.x[1] - line.x[0], line.y[1] - line.y[0]])
        axis = int(np.argmax(extent))
        count = int(np.ceil(extent[axis] / step))
        direction = np.eye(2)[axis]
        at = ((np.arange(count) + 0.5) / count - 0.5) * extent[axis]
        points.append(middle + at[:, None] * direction)
        directions.append(np.tile(direction, (count, 1)))
        numbers.append(np.full(count, number))
    return np.concatenate(points), np.concatenate(directions), np.concatenate(numbers)


_SAMPLES, _SAMPLE_DIRECTIONS, _SAMPLE_LINES = _line_samples()


def _nearness(stripes: _Stripes, size: tuple[int, int]) -> NDArray[np.float32]:
    """Distance in pixels of each pixel of a half-size picture to the nearest middle line."""
    drawn = np.full((size[1] // 2 + 1, size[0] // 2 + 1), 255, np.uint8)
    for first, second in stripes.ends / 2:
        start, stop = (tuple(int(round(v * 16)) for v in end - 0.5) for end in (first, second))
        cv2.line(drawn, start, stop, 0, 1, shift=4)
    return np.asarray(2 * cv2.distanceTransform(drawn, cv2.DIST_L2, 3), np.float32)


def _explained(
    axes: _Axes, readings: Array, nearness: tuple[NDArray[np.float32], NDArray[np.float32]],
    size: tuple[int, int],
) -> Array:
    """Score (n,) of readings (n, 4): scale and offset of x, scale and offset of y.

    Length of court lines that are where stripes are, less length that is not, in long sides of
    the picture.
    """
    to_pixels = np.linalg.inv(axes.to_floor).astype(np.float32)
    long_side = np.float32(max(size))
    along_y = np.abs(_SAMPLE_DIRECTIONS[:, 1]) > 0.5
    ends = [
        (_SAMPLES + side * 0.125 * _SAMPLE_DIRECTIONS).astype(np.float32) for side in (-1, 1)
    ]
    ends.append((_SAMPLES + LINE_WIDTH * np.roll(_SAMPLE_DIRECTIONS, 1, 1)).astype(np.float32))
    tolerance = np.float32(4.5 * long_side / 1280)
    scores = []
    for start in range(0, len(readings), 500):
        part = readings[start : start + 500].astype(np.float32)
        shown = []
        for places in ends:
            u = places[:, 0] * part[:, :1] + part[:, 1:2]
            v = places[:, 1] * part[:, 2:3] + part[:, 3:]
            x, y, w = (row[0] * u + row[1] * v + row[2] for row in to_pixels)
            # (u, v, 1) comes from a positive multiple of a pixel in front of the camera.
            w = np.where(w > 1e-6, w, np.float32(np.nan))
            shown.append((x / w, y / w))
        (x0, y0), (x1, y1), (x2, y2) = shown
        x, y = (x0 + x1) / 2, (y0 + y1) / 2
        with np.errstate(invalid="ignore"):
            inside = (x > 2) & (x < size[0] - 2) & (y > 2) & (y < size[1] - 2)
            whole = np.hypot(x1 - x0, y1 - y0)
            width = np.abs((x2 - x) * (y1 - y0) - (y2 - y) * (x1 - x0)) / whole
            length = np.minimum(whole, np.float32(0.08) * long_side)
            # Lines too thin to be seen for sure say less, whether they are found or not.
            length *= np.clip(width - np.float32(0.5), 0, 1)
        length = np.where(inside, length, np.float32(0)) / long_side
        column = np.where(inside, x / 2, 0).astype(np.intp)
        row = np.where(inside, y / 2, 0).astype(np.intp)
        distance = np.where(along_y, nearness[0][row, column], nearness[1][row, column])
        hit = np.clip(np.float32(1.5) - distance / tolerance, 0.0, 1.0)
        scores.append(np.sum(length * (1.8 * hit - 0.8), axis=1))
    return np.concatenate(scores).astype(float) if scores else np.zeros(0)


def _stray(axes: _Axes, readings: Array, stripes: _Stripes, size: tuple[int, int]) -> Array:
    """Length (n,) of stripes on the court that readings (n, 4) leave unexplained, long sides."""
    marks = _on_axes(axes, _marks(stripes)).reshape(-1, 2)
    weight = np.repeat(stripes.length / _MARKS, _MARKS) / max(size)
    usable = np.isfinite(marks).all(axis=1)
    court = (marks[usable][None] - readings[:, None, [1, 3]]) / readings[:, None, [0, 2]]
    off = _off_lines(court, 0.15, 0.25)
    return np.asarray(np.where(off, weight[usable], 0.0).sum(axis=1))


_MARKS = 5


def _marks(stripes: _Stripes) -> Array:
    """Places (n, marks, 2) along stripes, pixels."""
    share = np.linspace(0.1, 0.9, _MARKS)[None, :, None]
    return np.asarray(stripes.ends[:, :1] + share * (stripes.ends[:, 1:] - stripes.ends[:, :1]))


# Lines end at the court's edge; the next court's begin farther away.
_BEYOND = 0.6


def _off_lines(court: Array, near_x: float, near_y: float) -> NDArray[np.bool_]:
    """Whether places (..., 2) on the floor are where the court allows no line.

    That is on the court farther from its lines than `near_x` and `near_y`, between the halves of
    the centre line, and where a line would go on beyond the court's edge.
    """
    half = np.array([COURT_WIDTH, COURT_LENGTH]) / 2
    with np.errstate(invalid="ignore"):
        close = (np.abs(court) < half + _BEYOND).all(axis=-1)
    off = np.zeros(close.shape, bool)
    x, y = court[close, 0], court[close, 1]
    on_along = np.abs(x[:, None] - _ALONG).min(axis=-1) < near_x
    on_across = np.abs(y[:, None] - _ACROSS).min(axis=-1) < near_y
    inner = (np.abs(x) < half[0] + 0.1) & (np.abs(y) < half[1] + 0.1)
    gap = (np.abs(x) < near_x) & (np.abs(y) < SHORT_SERVICE_DISTANCE - 0.3)
    goes_on = (on_along & (np.abs(y) > half[1] + 0.1)) | (on_across & (np.abs(x) > half[0] + 0.1))
    off[close] = (inner & ~on_along & ~on_across) | gap | goes_on
    return off


@dataclass(frozen=True)
class _Reading:
    """One way to read the picture.

    `homography` (3, 3) takes court places (x, y, 1) to pixels; `score` as `_explained`; `colour`
    (3,) of the lines and `contrast` (3,) towards it from the floor, L*a*b*.
    """

    homography: Array
    score: float
    colour: Array
    contrast: Array


def _read(stripes: _Stripes, colour: _Colour, size: tuple[int, int], most: int) -> list[_Reading]:
    """The best readings of the stripes of one colour."""
    own = stripes.part(colour.members)
    points = _vanishing_points(own, size)
    found: list[_Reading] = []
    contrast = np.average(own.inside - own.outside, axis=0, weights=own.length)
    for first, second in combinations(range(len(points)), 2):
        for across, along in ((first, second), (second, first)):
            axes = _axes(points[across], points[along], size)
            if axes is None:
                continue
            found += _read_on_axes(axes, own, size, colour.colour, contrast, most)
    return found


def _read_on_axes(
    axes: _Axes, stripes: _Stripes, size: tuple[int, int], colour: Array, contrast: Array,
    most: int,
) -> list[_Reading]:
    family_x, members_x = _family(axes, stripes, 0, size)
    family_y, members_y = _family(axes, stripes, 1, size)
    by_x = _readings(family_x, _ALONG, size, 400)
    by_y = _readings(family_y, _ACROSS, size, 400)
    if not len(by_x) or not len(by_y):
        return []
    ratio = by_x[:, None, 0] / by_y[None, :, 0]
    allowed = (ratio > axes.ratio[0]) & (ratio < axes.ratio[1])
    i, j = np.nonzero(allowed)
    if not len(i):
        return []
    quick = by_x[i, 2] + by_y[j, 2]
    order = np.argsort(-quick)[:4000]
    i, j = i[order], j[order]
    readings = np.column_stack([by_x[i, :2], by_y[j, :2]])
    nearness = (
        _nearness(stripes.part(members_x), size), _nearness(stripes.part(members_y), size)
    )
    scores = _explained(axes, readings, nearness, size)
    best = np.argsort(-scores)[:600]
    readings, scores = readings[best], scores[best]
    scores -= 0.5 * _stray(axes, readings, stripes.part(members_x | members_y), size)
    to_pixels = np.linalg.inv(axes.to_floor)
    kept: list[_Reading] = []
    shown: list[Array] = []
    for k in np.argsort(-scores)[: 40 * most]:
        scale_x, offset_x, scale_y, offset_y = readings[k]
        homography = to_pixels @ np.array(
            [[scale_x, 0, offset_x], [0, scale_y, offset_y], [0, 0, 1.0]]
        )
        pixels = _shown_places(homography)
        if any(_alike(pixels, other, size) for other in shown):
            continue
        shown.append(pixels)
        kept.append(_Reading(homography, float(scores[k]), colour, contrast))
        if len(kept) == most:
            break
    return kept


def _shown_places(homography: Array) -> Array:
    """Pixels (n, 2) of the court's corners, NaN where behind the camera."""
    grid = np.array([[x, y, 1.0] for x in (-3.05, 0.0, 3.05) for y in (-6.7, -2.0, 2.0, 6.7)])
    homogeneous = grid @ homography.T
    pixels: Array = homogeneous[:, :2] / homogeneous[:, 2:]
    pixels[homogeneous[:, 2] <= 1e-6] = np.nan
    return pixels


def _alike(first: Array, second: Array, size: tuple[int, int]) -> bool:
    """Whether two readings show the court at the same place, where it is in the picture."""
    inside = (first > -0.2 * np.array(size)).all(axis=1) & (
        first < 1.2 * np.array(size)
    ).all(axis=1)
    if inside.sum() < 2:
        return False
    apart = np.linalg.norm(first[inside] - second[inside], axis=1)
    return bool(np.all(apart < 8 * max(size) / 1280))


# Standard deviation of a bent lens's coefficient, and of an edge's place in pixels at 1280.
_DISTORTION_SPREAD = 0.03


def _edge_samples() -> tuple[Array, Array, NDArray[np.intp]]:
    """Points on both edges of the court's lines, where no line crosses.

    Returns
    -------
    (n, 2) metres; (n, 2) unit vectors outwards from the line; (n,) number of the line.
    """
    outwards = np.column_stack([-_SAMPLE_DIRECTIONS[:, 1], _SAMPLE_DIRECTIONS[:, 0]])
    other = np.where(np.abs(_SAMPLE_DIRECTIONS[:, :1]) > 0.5, _SAMPLES[:, :1], _SAMPLES[:, 1:])
    crossings = np.where(np.abs(_SAMPLE_DIRECTIONS[:, :1]) > 0.5, _ALONG[None], np.nan)
    crossings_y = np.where(np.abs(_SAMPLE_DIRECTIONS[:, 1:]) > 0.5, _ACROSS[None], np.nan)
    near = np.nanmin(np.abs(other - np.hstack([crossings, crossings_y])), axis=1) < 0.06
    free = ~near
    points, outwards, lines = _SAMPLES[free], outwards[free], _SAMPLE_LINES[free]
    return (
        np.concatenate([points + outwards * LINE_WIDTH / 2, points - outwards * LINE_WIDTH / 2]),
        np.concatenate([outwards, -outwards]),
        np.concatenate([lines, lines]),
    )


_EDGES, _EDGE_OUTWARDS, _EDGE_LINES = _edge_samples()


@dataclass(frozen=True)
class _Edges:
    """What the picture shows where a camera puts the edges of the court's lines.

    `sample` (n,) which of the edge samples are in the picture; `pixel` (n, 2) where the camera
    puts them; `normal` (n, 2) outwards; `offset` (n,) how far outwards the edge is found, pixels,
    NaN where there is none; `length` (n,) pixels of line that a sample stands for.
    """

    sample: NDArray[np.intp]
    pixel: Array
    normal: Array
    offset: Array
    length: Array


def _look_for_edges(
    camera: Camera, picture: NDArray[np.float32], reach: float, least: float
) -> _Edges:
    """Look for the lines' edges in a picture (h, w) in which lines are brighter than the floor.

    Parameters
    ----------
    reach : how far from the expected place, pixels.
    least : smallest step in brightness of an edge.
    """
    flat = np.column_stack([_EDGES, np.zeros(len(_EDGES))])
    outer = flat.copy()
    outer[:, :2] += 0.02 * _EDGE_OUTWARDS
    aside = flat.copy()
    aside[:, :2] += 0.125 * np.column_stack([-_EDGE_OUTWARDS[:, 1], _EDGE_OUTWARDS[:, 0]])
    in_front = np.minimum(depth(camera, flat), depth(camera, outer)) > 0.2
    with np.errstate(invalid="ignore"):
        pixel, out, side = (project(camera, p) for p in (flat, outer, aside))
        inside = (pixel > 3).all(axis=1) & (pixel < np.array(camera.image_size) - 3).all(axis=1)
    inside &= np.isfinite(side).all(axis=1) & ~_behind_tape(camera, flat)
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
    profile = _sample(picture, pixel[:, None] + steps[None, :, None] * normal[:, None])
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
    return _Edges(sample, pixel, normal, np.where(found, offset, np.nan), length)


def _moved(camera: Camera, step: Array) -> Camera:
    """The camera after a step in its seven numbers and the distortion."""
    matrix = camera.matrix.copy()
    matrix[:2, :2] *= np.exp(step[0])
    rotation = scipy.spatial.transform.Rotation.from_rotvec(step[1:4]).as_matrix() @ camera.rotation
    return replace(
        camera, matrix=matrix, rotation=rotation, translation=camera.translation + step[4:7],
        distortion=float(camera.distortion + step[7]),
    )


def _fit(
    camera: Camera, picture: NDArray[np.float32], least: float
) -> tuple[Camera, _Edges] | None:
    """Fit a camera to the edges of the lines; None where it runs away.

    Gauss-Newton steps with weights after Geman and McClure, the search growing narrower.
    """
    unit = max(camera.image_size) / 1280
    for reach in (7.0, 7.0, 4.0, 4.0, 2.5, 2.5):
        edges = _look_for_edges(camera, picture, reach * unit, least)
        seen = np.isfinite(edges.offset)
        if seen.sum() < 12:
            return None
        flat = np.column_stack([_EDGES[edges.sample[seen]], np.zeros(seen.sum())])
        jacobian = _point_jacobian(camera, flat, edges.normal[seen])
        offset = edges.offset[seen]
        spread = max(1.4826 * float(np.median(np.abs(offset))), 0.25 * unit)
        weight = 1.0 / (1.0 + (offset / (2.0 * spread)) ** 2) ** 2
        noise = max(spread, 0.3 * unit)
        information, gradient = _with_priors(camera, jacobian, offset, weight / noise**2)
        step = _step(information, gradient)
        if np.abs(step[0]) > 0.5 or np.linalg.norm(step[1:4]) > 0.3:
            return None
        camera = _moved(camera, step)
        if not _sane(camera):
            return None
    return camera, _look_for_edges(camera, picture, 2.5 * unit, least)


def _step(information: Array, gradient: Array) -> Array:
    """The step that normal equations ask for, the shortest where they leave some of it open."""
    scale = 1 / np.sqrt(np.maximum(np.diag(information), 1e-12))
    scaled = information * scale[:, None] * scale[None]
    step: Array = np.linalg.lstsq(scaled, gradient * scale, rcond=1e-10)[0] * scale
    return step


def _with_priors(
    camera: Camera, jacobian: Array, offset: Array, weight: Array
) -> tuple[Array, Array]:
    """Normal equations of edges that are found `offset` outwards, with the priors' share."""
    information = (jacobian * weight[:, None]).T @ jacobian
    gradient = (jacobian * weight[:, None]).T @ offset
    relative = camera.matrix[0, 0] / max(camera.image_size)
    information[0, 0] += FOCAL_SPREAD**-2
    gradient[0] -= np.log(relative / USUAL_FOCAL) / FOCAL_SPREAD**2
    information[7, 7] += _DISTORTION_SPREAD**-2
    gradient[7] -= camera.distortion / _DISTORTION_SPREAD**2
    return information, gradient


def _first_camera(homography: Array, size: tuple[int, int]) -> Camera | None:
    """The pinhole nearest to a homography from the court to the picture, above the floor."""
    width, height = size
    grid = np.array([[x, y] for x in np.linspace(-3, 3, 5) for y in np.linspace(-6.5, 6.5, 9)])
    homogeneous = np.column_stack([grid, np.ones(len(grid))]) @ homography.T
    with np.errstate(divide="ignore", invalid="ignore"):
        pixels = homogeneous[:, :2] / homogeneous[:, 2:]
    low, high = -0.1 * np.array(size), 1.1 * np.array(size)
    inside = (homogeneous[:, 2] > 0) & (pixels > low).all(axis=1) & (pixels < high).all(axis=1)
    if inside.sum() < 3:
        return None
    best: tuple[float, Camera] | None = None
    for focal in max(size) * np.geomspace(0.45, 2.5, 22):
        matrix = np.array([[focal, 0, width / 2], [0, focal, height / 2], [0, 0, 1.0]])
        columns = np.linalg.inv(matrix) @ homography
        columns = columns / np.mean(np.linalg.norm(columns[:, :2], axis=0))
        centre = np.append(grid[inside].mean(axis=0), 1.0)
        if columns[2] @ centre < 0:
            columns = -columns
        one, two, translation = columns.T
        left, _, right = np.linalg.svd(np.column_stack([one, two, np.cross(one, two)]))
        camera = Camera(matrix, left @ right, translation, size)
        if camera_centre(camera)[2] <= 0.1:
            continue
        flat = np.column_stack([grid[inside], np.zeros(inside.sum())])
        error = float(np.nan_to_num(np.median(
            np.linalg.norm(project(camera, flat) - pixels[inside], axis=1)), nan=1e9))
        if best is None or error < best[0]:
            best = error, camera
    return None if best is None else _drawn_to(best[1], homography)


def _drawn_to(camera: Camera, homography: Array) -> Camera:
    """The camera nearby that shows the court's lines where a homography shows them.

    Steps after Levenberg and Marquardt.
    """
    homogeneous = np.column_stack([_SAMPLES, np.ones(len(_SAMPLES))]) @ homography.T
    with np.errstate(divide="ignore", invalid="ignore"):
        target = homogeneous[:, :2] / homogeneous[:, 2:]
        inside = ((target > 0) & (target < np.array(camera.image_size))).all(axis=1)
    flat = np.column_stack([_SAMPLES, np.zeros(len(_SAMPLES))])
    inside &= (homogeneous[:, 2] > 0) & (depth(camera, flat) > 0.2)
    flat, target = flat[inside], target[inside]
    error = _misses(camera, flat, target)
    damping = 1e-3
    for _ in range(12):
        jacobian = projection_parameter_jacobian(camera, flat).reshape(-1, 7)
        information = jacobian.T @ jacobian
        information += damping * np.diag(np.diag(information)) + 1e-9 * np.eye(7)
        step = np.linalg.solve(information, jacobian.T @ error.ravel())
        moved = _moved(camera, np.append(step, 0.0))
        moved_error = _misses(moved, flat, target)
        if _sane(moved) and np.sum(moved_error**2) < np.sum(error**2):
            camera, error = moved, moved_error
            damping /= 5
        else:
            damping *= 10
    return camera


def _misses(camera: Camera, places: Array, pixels: Array) -> Array:
    """By how much a camera shows places (n, 3) beside pixels (n, 2), huge behind the camera."""
    return np.asarray(np.nan_to_num(pixels - project(camera, places), nan=1e6))


def _settle(camera: Camera, stripes: _Stripes) -> Camera | None:
    """Fit a camera to the middles of stripes, from farther away than edges allow."""
    unit = max(camera.image_size) / 1280
    start = stripes.ends[:, 0]
    length = stripes.length
    along = (stripes.ends[:, 1] - start) / length[:, None]
    normal = np.column_stack([-along[:, 1], along[:, 0]])
    flat = np.column_stack([_SAMPLES, np.zeros(len(_SAMPLES))])
    aside = flat.copy()
    aside[:, :2] += 0.1 * _SAMPLE_DIRECTIONS
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
        edges = _Edges(
            sample[hit], pixel[hit], normal[chosen], -off[hit, chosen], np.ones(len(hit))
        )
        jacobian = _point_jacobian(camera, flat[sample[hit]], normal[chosen])
        weight = 1.0 / (1.0 + (edges.offset / (0.4 * reach * unit)) ** 2) ** 2 / unit**2
        information, gradient = _with_priors(camera, jacobian, edges.offset, weight)
        camera = _moved(camera, np.clip(_step(information, gradient), -0.5, 0.5))
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


def _point_jacobian(camera: Camera, flat: Array, normal: Array) -> Array:
    """How far points (n, 3) move along normals (n, 2) when the eight numbers change: (n, 8)."""
    by_camera = projection_parameter_jacobian(camera, flat)
    seen = flat @ camera.rotation.T + camera.translation
    plane = seen[:, :2] / seen[:, 2:]
    squared = np.minimum(np.sum(plane**2, axis=1), 1.0)
    by_distortion = camera.matrix[0, 0] * plane * squared[:, None]
    whole = np.concatenate([by_camera, by_distortion[..., None]], axis=-1)
    return np.asarray(np.einsum("nk,nkp->np", normal, whole))


@dataclass(frozen=True)
class _Judged:
    """A fitted reading and how well it explains the picture.

    `explained`, `missing` and `stray` are lengths in the picture's long sides: of line edges
    found, of those not found, and of stripes on the court that are no line. `error_px` is the
    root mean square distance of edges from their place; `net` the share of the tape that is
    where it belongs, None where none is in the picture; `net_length` of the tape in long sides;
    `lines` how many lines along the court and across it are seen; `edges` what was seen of
    them.
    """

    camera: Camera
    explained: float
    missing: float
    stray: float
    error_px: float
    net: float | None
    net_length: float
    lines: tuple[int, int]
    edges: _Edges

    @property
    def score(self) -> float:
        """What is compared between readings."""
        net = 0.0 if self.net is None else self.net_length * (1.3 * self.net - 0.3)
        return self.explained - 0.8 * self.missing - 0.4 * self.stray + 0.5 * net


def _judge(
    camera: Camera, edges: _Edges, stripes: _Stripes, light: NDArray[np.float32]
) -> _Judged:
    long_side = max(camera.image_size)
    unit = long_side / 1280
    found = np.isfinite(edges.offset) & (np.abs(edges.offset) < 1.5 * unit)
    explained = float(edges.length[found].sum()) / long_side
    missing = float(edges.length[~found].sum()) / long_side
    weight = np.repeat(stripes.length / _MARKS, _MARKS) / long_side
    places = floor_point(camera, _marks(stripes).reshape(-1, 2))
    off = _off_lines(places[:, :2], 0.08, 0.12) & ~_behind_tape(camera, places)
    stray = float(weight[off].sum())
    net, net_length = _net_tape(camera, light)
    lines = _EDGE_LINES[edges.sample]
    counts = [0, 0]
    for number in np.unique(lines):
        own = lines == number
        if found[own].sum() >= 6 and found[own].mean() > 0.4:
            counts[_LINE_AXIS[number]] += 1
    error = _error(edges, unit)
    return _Judged(
        camera, explained, missing, stray, error, net, net_length, (counts[0], counts[1]), edges
    )


def _error(edges: _Edges, unit: float) -> float:
    """Root mean square distance of edges from their place, pixels, without the strays."""
    offset = edges.offset[np.abs(edges.offset) < 1.5 * unit]
    return float(np.sqrt(np.mean(offset**2))) if len(offset) else float("inf")


# 0 for lines along the court, 1 for lines across it.
_LINE_AXIS = [int(line.x[1] - line.x[0] > 1) for line in court_lines()]

_TAPE = 0.075


def _tape_top(x: Array) -> Array:
    """Height of the net's top, metres, which sags from post to middle (Law 1.9)."""
    return NET_HEIGHT_MIDDLE + (NET_HEIGHT_POST - NET_HEIGHT_MIDDLE) * (2 * x / COURT_WIDTH) ** 2


def _behind_tape(camera: Camera, places: Array) -> NDArray[np.bool_]:
    """Whether places (n, 3) on the floor are hidden by the net's tape, or nearly so."""
    centre = camera_centre(camera)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = centre[1] / (centre[1] - places[:, 1])
        sight = share[:, None] * (places - centre)
        x, _, height = (centre + sight).T
        pixel = np.linalg.norm(sight, axis=1) / camera.matrix[0, 0]
        nearly = 3.0 * max(camera.image_size) / 1280 * pixel
        below = _tape_top(x) - height
        hidden = (below > -nearly) & (below < _TAPE + nearly)
        return np.asarray((share > 0) & (share < 1) & (np.abs(x) < COURT_WIDTH / 2) & hidden)


def _net_tape(camera: Camera, light: NDArray[np.float32]) -> tuple[float | None, float]:
    """Share of the net's tape seen where it belongs, and its length in long sides.

    The tape is a white band of 75 mm (Law 1.9) whose top sags from post to middle.
    """
    x = np.linspace(-COURT_WIDTH / 2 + 0.1, COURT_WIDTH / 2 - 0.1, 61)
    rows = [np.column_stack([x, np.zeros_like(x), _tape_top(x) - d]) for d in (0.0, _TAPE)]
    seen = np.minimum(*(depth(camera, row) for row in rows)) > 0.2
    with np.errstate(invalid="ignore"):
        upper, lower = (project(camera, row) for row in rows)
        size = np.array(camera.image_size)
        seen &= ((upper > 8) & (upper < size - 8) & (lower > 8) & (lower < size - 8)).all(axis=1)
    if seen.sum() < 6:
        return None, 0.0
    upper, lower = upper[seen], lower[seen]
    across = upper - lower
    width = np.linalg.norm(across, axis=1)
    across /= np.maximum(width, 1e-9)[:, None]
    # Nets hang 2 cm wrong at times.
    reach = np.clip(0.3 * width, 1.5 * max(size) / 1280, 8.0)
    share = np.linspace(-1, 1, 9)
    found = []
    for edge, out in ((upper, across), (lower, -across)):
        places = edge[:, None] + (share[None] * reach[:, None])[..., None] * out[:, None]
        beside = 1.2 * out[:, None]
        slope = _sample(light, places - beside) - _sample(light, places + beside)
        found.append(slope.max(axis=1) > 4.0)
    length = float(np.sum(np.linalg.norm(np.diff(upper, axis=0), axis=1))) / max(size)
    return float(np.mean(found[0] & found[1]) * 0.7 + np.mean(found[0] | found[1]) * 0.3), length


@dataclass(frozen=True)
class FoundCourt:
    """A court found in a picture, or why none was.

    Attributes
    ----------
    court : the calibrated court, source "found"; None where none was found for sure.
    confidence : 0 to 1, how sure the reading is; below `LEAST_CONFIDENCE` it is refused.
    reason : what is missing, a sentence for a coach; empty where a court was found.
    """

    court: CalibratedCourt | None
    confidence: float
    reason: str = ""


LEAST_CONFIDENCE = 0.6

# Smallest step in brightness, of 100, that counts as the edge of a line.
_LEAST_STEP = 2.5
_FITTED = 16

# Places on the floor less sure than this are not claimed.
_WEAK_M = 0.1

# With fewer places where people stand, nobody on the court may be chance.
_FEW_FEET = 3


def find_court(picture: Picture, feet: Array | None = None) -> FoundCourt:
    """Find the badminton court in a still picture and the camera that took it.

    The half on the camera's side of the net is the near one (y < 0).

    Parameters
    ----------
    picture : (height, width, 3) RGB; best without people, as the median of some frames.
    feet : (n, 2) pixels where people stand, to tell several courts beside each other apart.
    """
    size = (picture.shape[1], picture.shape[0])
    shrink = min(1.0, _WORKING_SIDE / max(size))
    small = picture
    if shrink < 1.0:
        new = (round(size[0] * shrink), round(size[1] * shrink))
        small = np.asarray(cv2.resize(picture, new, interpolation=cv2.INTER_AREA), np.uint8)
    unit_light = np.ascontiguousarray(small).astype(np.float32) / np.float32(255)
    lab = np.asarray(cv2.cvtColor(unit_light, cv2.COLOR_RGB2LAB), np.float32)
    stripes = _find_stripes(lab)
    if len(stripes) < 4:
        return FoundCourt(None, 0.0, _NO_LINES)
    judged = _all_judged(lab, stripes)
    sound = [entry for entry in judged if _sound(entry)]
    if not sound:
        return FoundCourt(None, 0.0, _missing(judged))
    standing = np.zeros((0, 2)) if feet is None else np.asarray(feet, float) * shrink
    best = _chosen(sound, standing)
    if len(standing) >= _FEW_FEET and not _on_court(best.camera, standing):
        return FoundCourt(None, 0.0, _NOBODY_THERE)
    rivals = [
        entry for entry in judged
        if _relation(best.camera, entry.camera) == _relation(entry.camera, best.camera) == "other"
    ]
    confidence = _confidence(best, rivals)
    if confidence < LEAST_CONFIDENCE:
        return FoundCourt(None, confidence, _AMBIGUOUS)
    court = _calibrated(best, size)
    if min(_place_error(court.camera, half) for half in (-1.0, 1.0)) > _WEAK_M:
        return FoundCourt(None, confidence, _WEAK)
    return FoundCourt(court, confidence)


def _place_error(camera: Camera, half: float) -> float:
    """Standard deviation, metres, of the worst place in the picture in the half y * half > 0.

    Infinite where fewer than three places of it are in the picture.
    """
    grid = np.array([[x, y] for x in np.linspace(-2.5, 2.5, 5) for y in np.linspace(1.0, 6.0, 6)])
    grid = np.column_stack([grid[:, 0], half * grid[:, 1], np.zeros(len(grid))])
    with np.errstate(invalid="ignore"):
        pixels = project(camera, grid)
        inside = ((pixels > 0) & (pixels < np.array(camera.image_size))).all(axis=1)
    if camera.covariance is None or inside.sum() < 3:
        return float("inf")
    errors = [floor_direction_error(camera, place).position_m for place in grid[inside, :2]]
    return float(np.max(errors))


def _all_judged(lab: NDArray[np.float32], stripes: _Stripes) -> list[_Judged]:
    """All readings that can be fitted, the one that explains most first."""
    size = (lab.shape[1], lab.shape[0])
    light = np.ascontiguousarray(lab[..., 0])
    read = [
        (reading, colour)
        for colour in _line_colours(stripes)
        for reading in _read(stripes, colour, size, 10)
    ]
    read.sort(key=lambda entry: -entry[0].score)
    judged: list[_Judged] = []
    shown: list[Array] = []
    pictures: dict[tuple[float, ...], NDArray[np.float32]] = {}
    for reading, colour in read:
        # Lines whose paint varies are read alike in several colours.
        places = _shown_places(reading.homography)
        if any(_alike(places, other, size) for other in shown):
            continue
        shown.append(places)
        if len(shown) > _FITTED:
            break
        own = stripes.part(colour.members)
        start = _first_camera(reading.homography, size)
        if start is None:
            continue
        direction = tuple(reading.contrast / np.linalg.norm(reading.contrast))
        if direction not in pictures:
            pictures[direction] = (lab @ np.array(direction)).astype(np.float32)
        # Either start may run away where the other one holds.
        settled = _settle(start, own)
        starts = [start] if settled is None else [start, settled]
        fits = [_fit(camera, pictures[direction], _LEAST_STEP) for camera in starts]
        entries = [_judge(*fitted, own, light) for fitted in fits if fitted is not None]
        if entries:
            judged.append(max(entries, key=lambda entry: entry.score))
    judged.sort(key=lambda entry: -entry.score)
    return judged


def _sound(judged: _Judged) -> bool:
    """Whether a reading could be a court at all: two lines each way, most of what it claims."""
    along, across = judged.lines
    share = judged.explained / max(judged.explained + judged.missing, 1e-9)
    if across == 1 and judged.net is not None and judged.net > 0.8:
        # The net's tape, where nothing else on the court is left unexplained, is a line across.
        across += int(judged.net_length > 0.1 and judged.stray < 0.15 * judged.explained)
    # Two lines each way fit many a rectangle, such as other sports': they must leave little over.
    if along + across == 4 and judged.stray > 0.3 * judged.explained:
        return False
    return along >= 2 and across >= 2 and share > 0.5 and judged.score > 0.5


def _relation(first: Camera, second: Camera) -> str:
    """Whether two readings mean the "same" court, a court "beside" it, or the floor "other"-wise.

    They mean the same where places on the floor agree within 0.15 m, after a turn by 180 degrees
    where needed; a court beside it is shifted by more than its own width or length.
    """
    size = np.array(first.image_size)
    grid = np.array(
        [[x, y, 0.0] for x in np.linspace(-3, 3, 7) for y in np.linspace(-6.5, 6.5, 11)]
    )
    with np.errstate(invalid="ignore"):
        pixels = project(first, grid)
        inside = (pixels > 0).all(axis=1) & (pixels < size).all(axis=1)
    if inside.sum() < 3:
        return "other"
    places = floor_point(second, pixels[inside])[:, :2]
    if not np.isfinite(places).all():
        return "other"
    for sign in (1.0, -1.0):
        shift = places - sign * grid[inside, :2]
        middle = np.median(shift, axis=0)
        scatter = np.median(np.linalg.norm(shift - middle, axis=1))
        if np.linalg.norm(middle) < 0.15 and scatter < 0.15:
            return "same"
        beside = abs(middle[0]) > COURT_WIDTH + 0.15 or abs(middle[1]) > COURT_LENGTH + 0.15
        if beside and scatter < 0.5:
            return "beside"
    return "other"


def _on_court(camera: Camera, feet: Array) -> int:
    """How many of the pixels (n, 2) lie on the court or just beside it."""
    places = floor_point(camera, feet)[:, :2]
    with np.errstate(invalid="ignore"):
        on = (np.abs(places) < np.array([COURT_WIDTH, COURT_LENGTH]) / 2 + 0.3).all(axis=1)
    return int(on.sum())


def _chosen(sound: list[_Judged], feet: Array) -> _Judged:
    """The best reading or, of courts beside each other, the one that is played on.

    That is the one whose net hangs where it belongs, if the best one's is missing there; otherwise
    the one on which most people stand.
    """
    best = sound[0]
    beside = [best] + [e for e in sound[1:] if _relation(best.camera, e.camera) == "beside"]
    with_net = [e for e in beside if e.net is not None and e.net > 0.8]
    if best.net is not None and best.net < 0.4 and with_net:
        return with_net[0]
    return beside[int(np.argmax([_on_court(entry.camera, feet) for entry in beside]))]


def _by_share(judged: _Judged) -> float:
    """How sure a reading is, 0 to 1, by the share of the picture's lines that it explains."""
    share = judged.explained / (judged.explained + judged.missing + 0.5 * judged.stray)
    return float(np.clip((share - 0.6) / 0.3, 0, 1))


def _confidence(best: _Judged, rivals: list[_Judged]) -> float:
    """How sure a reading is, 0 to 1: what it explains, and how far ahead of others it is."""
    by_share = _by_share(best)
    # What could not be claimed by itself, for all it leaves unexplained, is a rival in part only.
    rival = max((entry.score * (0.5 + 0.5 * _by_share(entry)) for entry in rivals), default=0.0)
    lead = best.score - max(rival, 0.0)
    by_lead = np.clip(max(lead / best.score / 0.2, lead / 0.4), 0, 1)
    net = 1.0 if best.net is None or best.net > 0.5 or best.net_length < 0.1 else 0.6
    return float(min(by_share, by_lead) * net)


def _calibrated(judged: _Judged, size: tuple[int, int]) -> CalibratedCourt:
    """The court of a reading, in a picture of a size, the camera on the near side of the net."""
    camera = judged.camera
    if camera_centre(camera)[1] > 0:
        camera = turned_180(camera)
    grow = max(size) / max(judged.camera.image_size)
    matrix: Array = np.diag([grow, grow, 1.0]) @ camera.matrix
    matrix[:2, 2] = np.array(size) / 2
    return CalibratedCourt(
        replace(camera, matrix=matrix, image_size=size, covariance=_covariance(judged)),
        judged.error_px * grow,
        "found",
    )


# Edges found along one line err together: over a metre or so, and through what the camera's
# model leaves out (the middle of the lens). Chosen on the tune split.
_TOGETHER = 8.0


def _covariance(judged: _Judged) -> Array:
    """Covariance (7, 7) of the camera's numbers, the distortion being free."""
    edges, camera = judged.edges, judged.camera
    unit = max(camera.image_size) / 1280
    seen = np.isfinite(edges.offset) & (np.abs(edges.offset) < 1.5 * unit)
    flat = np.column_stack([_EDGES[edges.sample[seen]], np.zeros(seen.sum())])
    jacobian = _point_jacobian(camera, flat, edges.normal[seen])
    noise = max(judged.error_px, 0.3 * unit)
    weight = np.full(len(jacobian), 1.0 / (_TOGETHER * noise**2))
    information, _ = _with_priors(camera, jacobian, edges.offset[seen], weight)
    return np.asarray(np.linalg.inv(information)[:7, :7], float)


_NO_LINES = (
    "No painted lines can be seen in the picture. Film so that at least two lines along the court "
    "and two across it are in view, with the light on."
)
_NOBODY_THERE = (
    "The lines that can be seen belong to a court on which nobody moves. Film so that the lines "
    "of the court that is played on are in view."
)
_WEAK = (
    "The court's lines can be seen, but too little of them to place the feet well. Film so that "
    "the whole half of the defenders is in view, from higher up."
)
_AMBIGUOUS = (
    "Lines can be seen, but they could be read as a court in more than one way. Film so that a "
    "back corner with both side lines and both back lines is in view, from higher up or farther "
    "away."
)


def _missing(judged: list[_Judged]) -> str:
    """What is missing where no reading is sound."""
    if not judged:
        return (
            "The lines in the picture do not make a badminton court. Film so that at least two "
            "lines along the court and two across it are in view."
        )
    along, across = judged[0].lines
    if along < 2 or across < 2:
        number = {0: "No line", 1: "Only one line"}
        short, other = (along, "along") if along < 2 else (across, "across")
        return (
            f"{number[short]} {other} the court can be made out. Film so that at least two lines "
            "along the court and two across it are in view."
        )
    return (
        "Too few of the court's lines can be made out where they ought to be. Film from higher up "
        "or farther away, so that one half of the court is in view with nothing in front of it."
    )


def moving_feet(pictures: Sequence[Picture], background: Picture) -> Array:
    """Where people who move stand: the lowest points of what differs from the background.

    Parameters
    ----------
    pictures : (height, width, 3) RGB each, from the same place as the background.
    background : (height, width, 3) RGB, the same without what moves.

    Returns
    -------
    (n, 2) pixels, all pictures together.
    """
    long_side = max(background.shape[:2])
    kernel = np.ones((max(3, long_side // 100),) * 2, np.uint8)
    feet = []
    for picture in pictures:
        change = cv2.absdiff(picture, background).max(axis=2)
        mask = cv2.morphologyEx((change > 30).astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3)))
        mask = cv2.dilate(mask, kernel)
        count, _, boxes, middles = cv2.connectedComponentsWithStats(mask)
        for number in range(1, count):
            _, top, _, height, _ = boxes[number]
            if height > 0.08 * long_side:
                feet.append((middles[number][0], top + height - kernel.shape[0] / 2))
    return np.asarray(feet, float).reshape(-1, 2)
