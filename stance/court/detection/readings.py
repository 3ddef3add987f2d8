"""Readings: which line of the court each stripe is, and the camera that follows."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from stance.court.camera import Camera, camera_centre, project
from stance.court.detection.axes import CourtAxes, court_axes, vanishing_points
from stance.court.detection.families import (
    ACROSS,
    ALONG,
    explained,
    line_family,
    line_readings,
    nearness_map,
    stray_share,
)
from stance.court.detection.fitting import drawn_to
from stance.court.detection.stripes import LineColour, Stripes
from stance.types import FloatArray


@dataclass(frozen=True)
class _Reading:
    """One way to read the picture.

    `homography` (3, 3) takes court places (x, y, 1) to pixels; `score` as `_explained`; `colour`
    (3,) of the lines and `contrast` (3,) towards it from the floor, L*a*b*.
    """

    homography: FloatArray
    score: float
    colour: FloatArray
    contrast: FloatArray


def read_stripes(
    stripes: Stripes, colour: LineColour, size: tuple[int, int], most: int
) -> list[_Reading]:
    """The best readings of the stripes of one colour."""
    own = stripes.part(colour.members)
    points = vanishing_points(own, size)
    found: list[_Reading] = []
    contrast = np.average(own.inside - own.outside, axis=0, weights=own.length)
    for first, second in combinations(range(len(points)), 2):
        for across, along in ((first, second), (second, first)):
            axes = court_axes(points[across], points[along], size)
            if axes is None:
                continue
            found += _read_on_axes(axes, own, size, colour.colour, contrast, most)
    return found


def _read_on_axes(
    axes: CourtAxes,
    stripes: Stripes,
    size: tuple[int, int],
    colour: FloatArray,
    contrast: FloatArray,
    most: int,
) -> list[_Reading]:
    family_x, members_x = line_family(axes, stripes, 0, size)
    family_y, members_y = line_family(axes, stripes, 1, size)
    by_x = line_readings(family_x, ALONG, size, 400)
    by_y = line_readings(family_y, ACROSS, size, 400)
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
        nearness_map(stripes.part(members_x), size),
        nearness_map(stripes.part(members_y), size),
    )
    scores = explained(axes, readings, nearness, size)
    best = np.argsort(-scores)[:600]
    readings, scores = readings[best], scores[best]
    scores -= 0.5 * stray_share(axes, readings, stripes.part(members_x | members_y), size)
    to_pixels = np.linalg.inv(axes.to_floor)
    kept: list[_Reading] = []
    shown: list[FloatArray] = []
    for k in np.argsort(-scores)[: 40 * most]:
        scale_x, offset_x, scale_y, offset_y = readings[k]
        homography = to_pixels @ np.array(
            [[scale_x, 0, offset_x], [0, scale_y, offset_y], [0, 0, 1.0]]
        )
        pixels = shown_places(homography)
        if any(alike(pixels, other, size) for other in shown):
            continue
        shown.append(pixels)
        kept.append(_Reading(homography, float(scores[k]), colour, contrast))
        if len(kept) == most:
            break
    return kept


def shown_places(homography: FloatArray) -> FloatArray:
    """Pixels (n, 2) of the court's corners, NaN where behind the camera."""
    grid = np.array([[x, y, 1.0] for x in (-3.05, 0.0, 3.05) for y in (-6.7, -2.0, 2.0, 6.7)])
    homogeneous = grid @ homography.T
    pixels: FloatArray = homogeneous[:, :2] / homogeneous[:, 2:]
    pixels[homogeneous[:, 2] <= 1e-6] = np.nan
    return pixels


def alike(first: FloatArray, second: FloatArray, size: tuple[int, int]) -> bool:
    """Whether two readings show the court at the same place, where it is in the picture."""
    inside = (first > -0.2 * np.array(size)).all(axis=1) & (first < 1.2 * np.array(size)).all(
        axis=1
    )
    if inside.sum() < 2:
        return False
    apart = np.linalg.norm(first[inside] - second[inside], axis=1)
    return bool(np.all(apart < 8 * max(size) / 1280))


def first_camera(homography: FloatArray, size: tuple[int, int]) -> Camera | None:
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
        error = float(
            np.nan_to_num(
                np.median(np.linalg.norm(project(camera, flat) - pixels[inside], axis=1)), nan=1e9
            )
        )
        if best is None or error < best[0]:
            best = error, camera
    return None if best is None else drawn_to(best[1], homography)
