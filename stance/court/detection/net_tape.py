"""The net's tape in the picture, and what lies behind it."""

import numpy as np
from numpy.typing import NDArray

from stance.court.camera import Camera, camera_centre, depth, project
from stance.court.detection.stripes import sample_picture
from stance.court.dimensions import COURT_WIDTH, NET_HEIGHT_MIDDLE, NET_HEIGHT_POST
from stance.types import FloatArray

_TAPE = 0.075


def _tape_top(x: FloatArray) -> FloatArray:
    """Height of the net's top, metres, which sags from post to middle (Law 1.9)."""
    return NET_HEIGHT_MIDDLE + (NET_HEIGHT_POST - NET_HEIGHT_MIDDLE) * (2 * x / COURT_WIDTH) ** 2


def behind_tape(camera: Camera, places: FloatArray) -> NDArray[np.bool_]:
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


def net_tape(camera: Camera, light: NDArray[np.float32]) -> tuple[float | None, float]:
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
        slope = sample_picture(light, places - beside) - sample_picture(light, places + beside)
        found.append(slope.max(axis=1) > 4.0)
    length = float(np.sum(np.linalg.norm(np.diff(upper, axis=0), axis=1))) / max(size)
    return float(np.mean(found[0] & found[1]) * 0.7 + np.mean(found[0] | found[1]) * 0.3), length
