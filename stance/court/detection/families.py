"""Families: stripes of one direction grouped to lines, and which painted lines they may be."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stance.court.detection.axes import CourtAxes, locate_on_axes
from stance.court.detection.stripes import Stripes
from stance.court.dimensions import LINE_WIDTH
from stance.types import FloatArray


@dataclass(frozen=True, eq=False)
class LineFamily:
    """Lines that run the same way, at places along one of the court's axes.

    Attributes
    ----------
    place
        (lines,) sorted, in units of the axes.
    weight
        (lines,) the longer the heavier, in the picture's long sides, at most 0.5.
    pixel
        (lines,) size of a pixel there, in units of the axes.
    width
        (lines,) of the line, NaN where it is too thin in the picture to be measured.
    members
        (stripes,) which of the stripes make up the lines.
    """

    place: FloatArray
    weight: FloatArray
    pixel: FloatArray
    width: FloatArray
    members: NDArray[np.bool_]


def group_lines(
    axes: CourtAxes, stripes: Stripes, axis: int, image_size: tuple[int, int]
) -> LineFamily:
    """Group stripes to lines with a constant u (axis 0) or v (axis 1).

    Parameters
    ----------
    image_size
        (width, height), pixels.
    """
    ends = locate_on_axes(axes, stripes.ends)
    below = np.isfinite(ends).all(axis=(1, 2))
    along = ends[:, 1] - ends[:, 0]
    middle = stripes.middle
    pixels = np.stack([middle, middle + [1.0, 0], middle + [0, 1.0]], axis=1)
    places = locate_on_axes(axes, pixels)
    with np.errstate(invalid="ignore"):
        pixel = np.hypot(*(places[:, k, axis] - places[:, 0, axis] for k in (1, 2)))
        # The middle line runs the right way if its ends differ by less than their noise.
        off = np.abs(along[:, axis]) / np.maximum(pixel, 1e-12)
        allowed = 2.5 * max(image_size) / 1280 + 0.008 * stripes.length
        steep = np.abs(along[:, axis]) < np.abs(along[:, 1 - axis])
        member = below & (off < allowed) & steep & (pixel > 0)
    index = np.flatnonzero(member)
    index = index[np.argsort(places[index, 0, axis])]
    place, length, noise = places[index, 0, axis], stripes.length[index], pixel[index]
    width = np.where(stripes.width > 4.0, _measure_floor_width(axes, stripes, axis), np.nan)[index]
    groups: list[list[int]] = []
    for k in range(len(index)):
        if groups:
            own = groups[-1]
            centre = np.average(place[own], weights=length[own])
            if place[k] - centre < 3.0 * max(image_size) / 1280 * max(noise[k], min(noise[own])):
                own.append(k)
                continue
        groups.append([k])
    return LineFamily(
        np.array([np.average(place[g], weights=length[g]) for g in groups]),
        np.array([min(length[g].sum() / max(image_size), 0.5) for g in groups]),
        np.array([min(noise[g]) for g in groups]),
        np.array([_average_known(width[g], length[g]) for g in groups]),
        member,
    )


def label_lines(
    family: LineFamily, lines: FloatArray, image_size: tuple[int, int], most: int
) -> FloatArray:
    """Ways to read a family's places as court lines, the best first.

    place = scale * line + offset; every pair of places is tried as every pair of lines.

    Parameters
    ----------
    lines
        (n,) where the court's lines of this direction are, sorted, metres.
    image_size
        (width, height), pixels.
    most
        number of ways.

    Returns
    -------
    (ways, 3) scale, offset and score, which is the weight of the lines that it explains.
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
    tolerance = 4.0 * max(image_size) / 1280 * pixel
    miss = np.abs(expected[:, :, None] - place[None, None]) / tolerance
    fit = np.maximum(1.0 - miss, 0.0).max(axis=1)
    # Painted lines are 40 mm wide (Law 1.2), give or take blur and worn paint.
    wider = np.log(width / (LINE_WIDTH * scale[:, None])) / 0.35
    score = (fit * np.where(np.isnan(wider), 1.0, np.exp(-0.5 * wider**2))) @ weight
    # Two places that are one line read twice explain nothing more.
    order = np.argsort(-score)[: 4 * most]
    order = order[score[order] > 0.3 * score[order[0]]]
    return np.asarray(np.column_stack([scale, offset, score])[order][:most])


def _measure_floor_width(axes: CourtAxes, stripes: Stripes, axis: int) -> FloatArray:
    """Widths (n,) of stripes along an axis."""
    direction = stripes.ends[:, 1] - stripes.ends[:, 0]
    direction /= np.linalg.norm(direction, axis=1, keepdims=True)
    half = stripes.width[:, None] / 2 * np.column_stack([-direction[:, 1], direction[:, 0]])
    places = locate_on_axes(axes, np.stack([stripes.middle - half, stripes.middle + half]))
    widths: FloatArray = np.abs(places[1] - places[0])[:, axis]
    return widths


def _average_known(width: FloatArray, length: FloatArray) -> float:
    """Mean of the known widths, weighed by length; NaN where none is known."""
    known = np.isfinite(width)
    return float(np.average(width[known], weights=length[known])) if known.any() else float("nan")
