"""Painted stripes in a picture: pairs of edges, and their colours."""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
import scipy
from numpy.typing import NDArray

from stance.types import FloatArray

SAMPLES_PER_STRIPE = 5


@dataclass(frozen=True, eq=False)
class Stripes:
    """Painted stripes, or what looks like them: n pairs of facing edges.

    Attributes
    ----------
    ends
        (n, 2, 2) the ends of the middle line, pixels.
    width
        (n,) pixels.
    inside, outside
        (n, 3) colours on and beside the stripe, CIE L*a*b*.
    """

    ends: FloatArray
    width: FloatArray
    inside: FloatArray
    outside: FloatArray

    def __len__(self) -> int:
        return len(self.width)

    @property
    def middle(self) -> FloatArray:
        """(n, 2) pixels."""
        return np.asarray(self.ends.mean(axis=1))

    @property
    def length(self) -> FloatArray:
        """(n,) pixels."""
        return np.asarray(np.linalg.norm(self.ends[:, 1] - self.ends[:, 0], axis=1))

    @property
    def along(self) -> FloatArray:
        """(n, 2) unit vectors from the first end to the second."""
        return np.asarray((self.ends[:, 1] - self.ends[:, 0]) / self.length[:, None])

    @property
    def normal(self) -> FloatArray:
        """(n, 2) unit vectors across the stripe."""
        along = self.along
        return np.column_stack([-along[:, 1], along[:, 0]])

    def select(self, chosen: NDArray[Any]) -> "Stripes":
        """The chosen stripes, by index or mask."""
        return Stripes(
            self.ends[chosen], self.width[chosen], self.inside[chosen], self.outside[chosen]
        )


@dataclass(frozen=True, eq=False)
class LineColour:
    """Stripes of one colour.

    Attributes
    ----------
    colour
        (3,) CIE L*a*b*.
    members
        (n,) which of the stripes may have it.
    """

    colour: FloatArray
    members: NDArray[np.bool_]


_NO_STRIPES = Stripes(np.zeros((0, 2, 2)), np.zeros(0), np.zeros((0, 3)), np.zeros((0, 3)))


def find_stripes(lab: NDArray[np.float32]) -> Stripes:
    """Pairs of facing edges in a picture.

    Parameters
    ----------
    lab
        (height, width, 3) CIE L*a*b*.
    """
    edges = _find_edge_segments(lab)
    long_side = max(lab.shape[:2])
    if len(edges) < 2:
        return _NO_STRIPES
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
        return _NO_STRIPES
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
    inside, outside, distinct = _measure_colours(lab, ends_array, width)
    return Stripes(ends_array, width, inside, outside).select(distinct)


def find_line_colours(stripes: Stripes, most: int = 5) -> list[LineColour]:
    """Colours of lines, the one with the most length first.

    Thin stripes are a mixture of line and floor, so a stripe belongs to a colour if it lies
    between that colour and the floor beside it. The colours are clusters of the wide stripes'.

    Parameters
    ----------
    most
        number of colours.
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
    found: list[LineColour] = []
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
            found.append(LineColour(colour / scale, members))
    found.sort(key=lambda entry: -float(length[entry.members].sum()))
    return _drop_doubles(found, length)[:most]


def sample_stripes(stripes: Stripes) -> FloatArray:
    """Places along the middle lines of stripes: (n, SAMPLES_PER_STRIPE, 2) pixels."""
    share = np.linspace(0.1, 0.9, SAMPLES_PER_STRIPE)[None, :, None]
    return np.asarray(stripes.ends[:, :1] + share * (stripes.ends[:, 1:] - stripes.ends[:, :1]))


def sample_picture(picture: NDArray[np.float32], places: FloatArray) -> NDArray[np.float32]:
    """The picture at places between its pixels, bilinear, its border repeated.

    Parameters
    ----------
    picture
        (height, width) or (height, width, channels).
    places
        (..., 2) pixels.

    Returns
    -------
    (...) or (..., channels)
    """
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


def _find_edge_segments(lab: NDArray[np.float32]) -> FloatArray:
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


def _measure_colours(
    lab: NDArray[np.float32], ends: FloatArray, width: FloatArray
) -> tuple[FloatArray, FloatArray, NDArray[np.bool_]]:
    """Colours inside and beside stripes (n, 3), and whether the inside differs from both sides."""
    along = ends[:, 1] - ends[:, 0]
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    normal = np.column_stack([-along[:, 1], along[:, 0]])
    places = ends[:, None, 0] + np.linspace(0.1, 0.9, 7)[None, :, None] * (
        ends[:, None, 1] - ends[:, None, 0]
    )
    away = (width / 2 + np.maximum(1.5, 0.6 * width))[:, None, None] * normal[:, None]
    inside = np.median(sample_picture(lab, places), axis=1)
    left = np.median(sample_picture(lab, places - away), axis=1)
    right = np.median(sample_picture(lab, places + away), axis=1)
    agreement = np.einsum("nk,nk->n", inside - left, inside - right)
    least = np.minimum(
        np.linalg.norm(inside - left, axis=1), np.linalg.norm(inside - right, axis=1)
    )
    distinct = (agreement > 0) & (least > 2.5)
    outside = (left + right) / 2
    return inside.astype(float), outside.astype(float), distinct


def _drop_doubles(colours: list[LineColour], length: FloatArray) -> list[LineColour]:
    """Colours without those that share most of their stripes with one before."""
    kept: list[LineColour] = []
    for entry in colours:
        shared = [
            length[entry.members & other.members].sum()
            / max(length[entry.members | other.members].sum(), 1e-9)
            for other in kept
        ]
        if all(share < 0.85 for share in shared):
            kept.append(entry)
    return kept
