"""The net's tape in the picture, and what lies behind it."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stance.court.camera import Camera, camera_centre, depth, project
from stance.court.detection.stripes import sample_picture
from stance.court.dimensions import COURT_WIDTH, NET_HEIGHT_MIDDLE, NET_HEIGHT_POST
from stance.types import FloatArray

# Height of the white tape, metres (Law 1.9).
_TAPE = 0.075

# How nets hang: by how much the tape is too high at its posts and, beyond that, in the middle,
# metres. Looked for at the Laws' height alone, nets that hang so cost every seventh court.
_HANGS = tuple((at_posts, sag) for at_posts in (0.0, -0.04, 0.04) for sag in (0.0, -0.06))

# Where along the net the tape is looked at, metres.
_ALONG_NET = np.linspace(-COURT_WIDTH / 2 + 0.1, COURT_WIDTH / 2 - 0.1, 61)


@dataclass(frozen=True)
class NetTape:
    """What is seen of the net's tape.

    Attributes
    ----------
    share
        0 to 1, of the tape that is where it belongs; None where none is in the picture.
    length
        of the tape in the picture, in the picture's long sides.
    """

    share: float | None
    length: float


def find_net_tape(camera: Camera, light: NDArray[np.float32]) -> NetTape:
    """Look for the net's tape where a camera puts it, hung right or some centimetres wrong.

    The tape is a white band of 75 mm (Law 1.9) whose top sags from post to middle.

    Parameters
    ----------
    light
        (height, width) CIE L*, 0 to 100.
    """
    hung = [_look_for_tape(camera, light, at_posts, sag) for at_posts, sag in _HANGS]
    if hung[0].share is None:
        return hung[0]
    return replace(hung[0], share=max(tape.share or 0.0 for tape in hung))


def _look_for_tape(
    camera: Camera, light: NDArray[np.float32], at_posts: float, sag: float
) -> NetTape:
    """Look for the tape of a net that hangs `at_posts`, and in the middle `sag` more, too high."""
    top = _tape_top(_ALONG_NET) + at_posts + sag * (1 - (2 * _ALONG_NET / COURT_WIDTH) ** 2)
    rows = [
        np.column_stack([_ALONG_NET, np.zeros_like(top), height]) for height in (top, top - _TAPE)
    ]
    seen = np.minimum(*(depth(camera, row) for row in rows)) > 0.2
    with np.errstate(invalid="ignore"):
        upper, lower = (project(camera, row) for row in rows)
        size = np.array(camera.image_size)
        seen &= ((upper > 8) & (upper < size - 8) & (lower > 8) & (lower < size - 8)).all(axis=1)
    if seen.sum() < 6:
        return NetTape(None, 0.0)
    upper, lower = upper[seen], lower[seen]
    across = upper - lower
    width = np.linalg.norm(across, axis=1)
    across /= np.maximum(width, 1e-9)[:, None]
    reach = np.clip(0.3 * width, 1.5 * max(size) / 1280, 8.0)
    share = np.linspace(-1, 1, 9)
    found = []
    for edge, out in ((upper, across), (lower, -across)):
        places = edge[:, None] + (share[None] * reach[:, None])[..., None] * out[:, None]
        beside = 1.2 * out[:, None]
        slope = sample_picture(light, places - beside) - sample_picture(light, places + beside)
        found.append(slope.max(axis=1) > 4.0)
    length = float(np.sum(np.linalg.norm(np.diff(upper, axis=0), axis=1))) / max(size)
    both, either = np.mean(found[0] & found[1]), np.mean(found[0] | found[1])
    return NetTape(float(both * 0.7 + either * 0.3), length)


def is_behind_tape(camera: Camera, places: FloatArray) -> NDArray[np.bool_]:
    """Whether places on the floor are hidden by the net's tape, or nearly so.

    Parameters
    ----------
    places
        (n, 3) metres, court frame.

    Returns
    -------
    (n,)
    """
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


def _tape_top(x: FloatArray) -> FloatArray:
    """Height of the net's top, metres, which sags from post to middle (Law 1.9)."""
    return NET_HEIGHT_MIDDLE + (NET_HEIGHT_POST - NET_HEIGHT_MIDDLE) * (2 * x / COURT_WIDTH) ** 2
