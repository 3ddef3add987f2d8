"""Readings: which line of the court each stripe is, and the camera that follows from it."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from stance.court.camera import Camera, camera_centre, project
from stance.court.detection.axes import CourtAxes, find_court_axes, find_vanishing_points
from stance.court.detection.families import group_lines, label_lines
from stance.court.detection.fitting import fit_to_homography
from stance.court.detection.line_samples import X_OF_LINES_ALONG, Y_OF_LINES_ACROSS
from stance.court.detection.scoring import map_distance, measure_stray_length, score_readings
from stance.court.detection.stripes import LineColour, Stripes
from stance.court.floor_error import on_floor
from stance.court.pose import FOCAL_RANGE, derive_cameras
from stance.types import FloatArray

# Focal lengths to start from, in long sides: phones', and long lenses' far behind the court.
_FOCAL_LENGTHS = np.concatenate(
    [np.geomspace(0.45, 2.5, 22), np.geomspace(2.72, FOCAL_RANGE[1], 8)]
)


@dataclass(frozen=True, eq=False)
class Reading:
    """One way to read the picture: a hypothesis which line of the court each stripe is.

    Attributes
    ----------
    homography
        (3, 3) court places (x, y, 1) in metres to homogeneous pixels.
    score
        length of lines that it explains, less what it does not, in the picture's long sides.
    contrast
        (3,) from the colour of the floor to that of the lines, CIE L*a*b*.
    """

    homography: FloatArray
    score: float
    contrast: FloatArray


def read_stripes(
    stripes: Stripes, colour: LineColour, image_size: tuple[int, int], most: int
) -> list[Reading]:
    """The best readings of the stripes of one colour, up to `most` for each pair of directions.

    Parameters
    ----------
    image_size
        (width, height), pixels.
    """
    own = stripes.select(colour.members)
    points = find_vanishing_points(own, image_size)
    found: list[Reading] = []
    for first, second in combinations(range(len(points)), 2):
        for across, along in ((first, second), (second, first)):
            axes = find_court_axes(points[across], points[along], image_size)
            if axes is not None:
                found += _read_on_axes(axes, own, image_size, most)
    return found


def project_landmarks(homography: FloatArray) -> FloatArray:
    """Where a homography shows twelve places spread over the court.

    Parameters
    ----------
    homography
        (3, 3) court places (x, y, 1) in metres to homogeneous pixels.

    Returns
    -------
    (12, 2) pixels, NaN where behind the camera.
    """
    grid = np.array([[x, y, 1.0] for x in (-3.05, 0.0, 3.05) for y in (-6.7, -2.0, 2.0, 6.7)])
    homogeneous = grid @ homography.T
    pixels: FloatArray = homogeneous[:, :2] / homogeneous[:, 2:]
    pixels[homogeneous[:, 2] <= 1e-6] = np.nan
    return pixels


def coincide(first: FloatArray, second: FloatArray, image_size: tuple[int, int]) -> bool:
    """Whether two readings show the court at the same place, where it is in the picture.

    Parameters
    ----------
    first, second
        (12, 2) pixels as of `project_landmarks`.
    image_size
        (width, height), pixels.
    """
    size = np.array(image_size)
    inside = (first > -0.2 * size).all(axis=1) & (first < 1.2 * size).all(axis=1)
    if inside.sum() < 2:
        return False
    apart = np.linalg.norm(first[inside] - second[inside], axis=1)
    return bool(np.all(apart < 8 * max(image_size) / 1280))


def approximate_camera(homography: FloatArray, image_size: tuple[int, int]) -> Camera | None:
    """The pinhole above the floor that is nearest to a homography.

    Parameters
    ----------
    homography
        (3, 3) court places (x, y, 1) in metres to homogeneous pixels.
    image_size
        (width, height), pixels.

    Returns
    -------
    None where hardly any of the court is in the picture, or no camera is above the floor.
    """
    grid = np.array([[x, y] for x in np.linspace(-3, 3, 5) for y in np.linspace(-6.5, 6.5, 9)])
    homogeneous = np.column_stack([grid, np.ones(len(grid))]) @ homography.T
    with np.errstate(divide="ignore", invalid="ignore"):
        pixels = homogeneous[:, :2] / homogeneous[:, 2:]
    low, high = -0.1 * np.array(image_size), 1.1 * np.array(image_size)
    inside = (homogeneous[:, 2] > 0) & (pixels > low).all(axis=1) & (pixels < high).all(axis=1)
    if inside.sum() < 3:
        return None
    places, pixels = grid[inside], pixels[inside]
    candidates = []
    lengths = max(image_size) * _FOCAL_LENGTHS
    for camera in derive_cameras(homography, lengths, places, image_size):
        if camera_centre(camera)[2] > 0.1:
            apart = np.linalg.norm(project(camera, on_floor(places)) - pixels, axis=1)
            candidates.append((float(np.nan_to_num(np.median(apart), nan=1e9)), camera))
    if not candidates:
        return None
    nearest = min(candidates, key=lambda candidate: candidate[0])[1]
    return fit_to_homography(nearest, homography)


def _read_on_axes(
    axes: CourtAxes, stripes: Stripes, image_size: tuple[int, int], most: int
) -> list[Reading]:
    """The best readings of stripes on given axes, all different from each other."""
    along = group_lines(axes, stripes, 0, image_size)
    across = group_lines(axes, stripes, 1, image_size)
    by_x = label_lines(along, X_OF_LINES_ALONG, image_size, 400)
    by_y = label_lines(across, Y_OF_LINES_ACROSS, image_size, 400)
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
    distances = (
        map_distance(stripes.select(along.members), image_size),
        map_distance(stripes.select(across.members), image_size),
    )
    scores = score_readings(axes, readings, distances, image_size)
    best = np.argsort(-scores)[:600]
    readings, scores = readings[best], scores[best]
    either = stripes.select(along.members | across.members)
    scores -= 0.5 * measure_stray_length(axes, readings, either, image_size)
    contrast = np.average(stripes.inside - stripes.outside, axis=0, weights=stripes.length)
    to_pixels = np.linalg.inv(axes.to_floor)
    kept: list[Reading] = []
    shown: list[FloatArray] = []
    for k in np.argsort(-scores)[: 40 * most]:
        scale_x, offset_x, scale_y, offset_y = readings[k]
        homography = to_pixels @ np.array(
            [[scale_x, 0, offset_x], [0, scale_y, offset_y], [0, 0, 1.0]]
        )
        pixels = project_landmarks(homography)
        if any(coincide(pixels, other, image_size) for other in shown):
            continue
        shown.append(pixels)
        kept.append(Reading(homography, float(scores[k]), contrast))
        if len(kept) == most:
            break
    return kept
