"""How much a lens bends the picture, from the stripes: lines that are straight on the floor."""

from dataclasses import replace

import numpy as np

from stance.court.detection.axes import find_vanishing_points
from stance.court.detection.stripes import Stripes, find_line_colours
from stance.court.pose import straighten
from stance.types import FloatArray

# Bends that are tried: the picture's corners are so many times as far from its middle as they would
# be through a lens that does not bend, from a fisheye to none.
_CORNERS = np.linspace(0.2, 1.0, 13)

# Stripes must point together so much better.
_LEAST_GAIN = 1.1


def straighten_stripes(stripes: Stripes, bend: float, image_size: tuple[int, int]) -> Stripes:
    """The stripes where they would be if the lens did not bend the picture.

    Parameters
    ----------
    bend
        as of `stance.court.pose.straighten`.
    image_size
        (width, height), pixels.
    """
    return replace(stripes, ends=straighten(stripes.ends, bend, image_size))


def find_bends(stripes: Stripes, image_size: tuple[int, int]) -> tuple[float, ...]:
    """Bends without which more of the lines point to two vanishing points.

    The stripes of a bent line are its chords, which then point past each other.

    Parameters
    ----------
    image_size
        (width, height), pixels.

    Returns
    -------
    As of `stance.court.pose.straighten`: the best bend and half of it, none of them where none is
    clearly better than a lens that does not bend.
    """
    colours = find_line_colours(stripes, 1)
    if not colours:
        return ()
    lines = stripes.select(colours[0].members)
    corner = np.hypot(*image_size) / 2 / max(image_size)
    bends = (_CORNERS - 1.0) / corner**2
    agreement = [
        _measure_agreement(straighten_stripes(lines, bend, image_size), lines, image_size)
        for bend in bends
    ]
    best = int(np.argmax(agreement))
    if agreement[best] < _LEAST_GAIN * agreement[-1]:
        return ()
    return float(bends[best]), float(bends[best]) / 2


def _measure_agreement(straight: Stripes, shown: Stripes, image_size: tuple[int, int]) -> float:
    """Length of stripes, as shown, that point at their two best vanishing points when straight."""
    long_side = max(image_size)
    points: FloatArray = find_vanishing_points(straight, image_size, 2)
    if not len(points):
        return 0.0
    middle = (straight.middle - np.array(image_size) / 2) / long_side
    towards = points[:, None, :2] - points[:, None, 2:] * middle
    towards /= np.maximum(np.linalg.norm(towards, axis=-1, keepdims=True), 1e-12)
    along = straight.along
    sine = towards[..., 0] * along[:, 1] - towards[..., 1] * along[:, 0]
    # Half of what stripes may miss by where vanishing points are searched.
    allowed = np.minimum(0.0012 * long_side / straight.length + 0.002, 0.03)
    hit = np.maximum(1.0 - (sine / allowed) ** 2, 0.0).max(axis=0)
    return float(np.sum(np.minimum(shown.length / long_side, 0.25) * hit))
