"""Lines of one direction, and which painted lines they may be."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from stance.court.detection.axes import CourtAxes, on_axes
from stance.court.detection.stripes import Stripes
from stance.court.dimensions import (
    COURT_LENGTH,
    COURT_WIDTH,
    LINE_WIDTH,
    SHORT_SERVICE_DISTANCE,
    court_lines,
)
from stance.types import FloatArray

# Middles of the lines along the court (x) and across it (y), metres.
ALONG = np.array(sorted({round(sum(k.x) / 2, 4) for k in court_lines() if k.x[1] - k.x[0] < 1}))

ACROSS = np.array(sorted({round(sum(k.y) / 2, 4) for k in court_lines() if k.y[1] - k.y[0] < 1}))


@dataclass(frozen=True)
class LineFamily:
    """Lines that run the same way.

    `place` (n,) sorted; `weight` (n,) the longer the heavier; `pixel` (n,) size of a pixel there;
    `width` (n,) of the line, NaN where it is too thin in the picture to be measured.
    """

    place: FloatArray
    weight: FloatArray
    pixel: FloatArray
    width: FloatArray


def line_family(
    axes: CourtAxes, stripes: Stripes, axis: int, size: tuple[int, int]
) -> tuple[LineFamily, NDArray[np.bool_]]:
    """Lines with a constant u (axis 0) or v (axis 1), and which stripes (n,) make them up."""
    ends = on_axes(axes, stripes.ends)
    below = np.isfinite(ends).all(axis=(1, 2))
    along = ends[:, 1] - ends[:, 0]
    middle = stripes.middle
    pixels = np.stack([middle, middle + [1.0, 0], middle + [0, 1.0]], axis=1)
    places = on_axes(axes, pixels)
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
    family = LineFamily(
        np.array([np.average(place[g], weights=length[g]) for g in groups]),
        np.array([min(length[g].sum() / max(size), 0.5) for g in groups]),
        np.array([min(noise[g]) for g in groups]),
        np.array([_mean_known(width[g], length[g]) for g in groups]),
    )
    return family, member


def _floor_width(axes: CourtAxes, stripes: Stripes, axis: int) -> FloatArray:
    """Widths (n,) of stripes along an axis."""
    direction = stripes.ends[:, 1] - stripes.ends[:, 0]
    direction /= np.linalg.norm(direction, axis=1, keepdims=True)
    half = stripes.width[:, None] / 2 * np.column_stack([-direction[:, 1], direction[:, 0]])
    places = on_axes(axes, np.stack([stripes.middle - half, stripes.middle + half]))
    widths: FloatArray = np.abs(places[1] - places[0])[:, axis]
    return widths


def _mean_known(width: FloatArray, length: FloatArray) -> float:
    """Mean of the known widths, weighed by length; NaN where none is known."""
    known = np.isfinite(width)
    return float(np.average(width[known], weights=length[known])) if known.any() else float("nan")


def line_readings(
    family: LineFamily, lines: FloatArray, size: tuple[int, int], most: int
) -> FloatArray:
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
    offset = place[i][:, None] - (place[j] - place[i])[:, None] / (lines[q] - lines[p]) * lines[p]
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


def _line_samples(step: float = 0.25) -> tuple[FloatArray, FloatArray, NDArray[np.intp]]:
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


SAMPLES, SAMPLE_DIRECTIONS, SAMPLE_LINES = _line_samples()


def nearness_map(stripes: Stripes, size: tuple[int, int]) -> NDArray[np.float32]:
    """Distance in pixels of each pixel of a half-size picture to the nearest middle line."""
    drawn = np.full((size[1] // 2 + 1, size[0] // 2 + 1), 255, np.uint8)
    for first, second in stripes.ends / 2:
        start, stop = (tuple(int(round(v * 16)) for v in end - 0.5) for end in (first, second))
        cv2.line(drawn, start, stop, 0, 1, shift=4)
    return np.asarray(2 * cv2.distanceTransform(drawn, cv2.DIST_L2, 3), np.float32)


def explained(
    axes: CourtAxes,
    readings: FloatArray,
    nearness: tuple[NDArray[np.float32], NDArray[np.float32]],
    size: tuple[int, int],
) -> FloatArray:
    """Score (n,) of readings (n, 4): scale and offset of x, scale and offset of y.

    Length of court lines that are where stripes are, less length that is not, in long sides of
    the picture.
    """
    to_pixels = np.linalg.inv(axes.to_floor).astype(np.float32)
    long_side = np.float32(max(size))
    along_y = np.abs(SAMPLE_DIRECTIONS[:, 1]) > 0.5
    ends = [(SAMPLES + side * 0.125 * SAMPLE_DIRECTIONS).astype(np.float32) for side in (-1, 1)]
    ends.append((SAMPLES + LINE_WIDTH * np.roll(SAMPLE_DIRECTIONS, 1, 1)).astype(np.float32))
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


def stray_share(
    axes: CourtAxes, readings: FloatArray, stripes: Stripes, size: tuple[int, int]
) -> FloatArray:
    """Length (n,) of stripes on the court that readings (n, 4) leave unexplained, long sides."""
    marks = on_axes(axes, stripe_marks(stripes)).reshape(-1, 2)
    weight = np.repeat(stripes.length / MARKS, MARKS) / max(size)
    usable = np.isfinite(marks).all(axis=1)
    court = (marks[usable][None] - readings[:, None, [1, 3]]) / readings[:, None, [0, 2]]
    off = off_lines(court, 0.15, 0.25)
    return np.asarray(np.where(off, weight[usable], 0.0).sum(axis=1))


MARKS = 5


def stripe_marks(stripes: Stripes) -> FloatArray:
    """Places (n, marks, 2) along stripes, pixels."""
    share = np.linspace(0.1, 0.9, MARKS)[None, :, None]
    return np.asarray(stripes.ends[:, :1] + share * (stripes.ends[:, 1:] - stripes.ends[:, :1]))


# Lines end at the court's edge; the next court's begin farther away.
_BEYOND = 0.6


def off_lines(court: FloatArray, near_x: float, near_y: float) -> NDArray[np.bool_]:
    """Whether places (..., 2) on the floor are where the court allows no line.

    That is on the court farther from its lines than `near_x` and `near_y`, between the halves of
    the centre line, and where a line would go on beyond the court's edge.
    """
    half = np.array([COURT_WIDTH, COURT_LENGTH]) / 2
    with np.errstate(invalid="ignore"):
        close = (np.abs(court) < half + _BEYOND).all(axis=-1)
    off = np.zeros(close.shape, bool)
    x, y = court[close, 0], court[close, 1]
    on_along = np.abs(x[:, None] - ALONG).min(axis=-1) < near_x
    on_across = np.abs(y[:, None] - ACROSS).min(axis=-1) < near_y
    inner = (np.abs(x) < half[0] + 0.1) & (np.abs(y) < half[1] + 0.1)
    gap = (np.abs(x) < near_x) & (np.abs(y) < SHORT_SERVICE_DISTANCE - 0.3)
    goes_on = (on_along & (np.abs(y) > half[1] + 0.1)) | (on_across & (np.abs(x) > half[0] + 0.1))
    off[close] = (inner & ~on_along & ~on_across) | gap | goes_on
    return off
