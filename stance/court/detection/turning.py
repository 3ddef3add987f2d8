"""How far a marked court is turned against the painted one: by a phone that was turned or rolled.

A roll by one degree hardly moves the lines, but turns the net by several.
"""

from dataclasses import replace

import numpy as np
import scipy
from numpy.typing import NDArray

from stance.court.camera import Camera, floor_point, project
from stance.court.detection.edges import Edges, locate_edges
from stance.court.detection.line_samples import LINE_EDGES
from stance.court.floor_error import on_floor
from stance.types import FloatArray

# Edges are looked for so far from where a camera puts them, pixels of 1280: at first, and once it
# is turned nearly right, when the nearest edge is the line's own.
_REACHES = (14.0, 5.0)

# Fewer edges do not tell three angles.
_LEAST_EDGES = 12

# Fitted again and again; edges farther off than some times the scatter do not count (J. W. Tukey's
# biweight: P. J. Huber, Robust Statistics, 1981, section 4.8). The scatter that is asked for
# shrinks from the first pixels to the last.
_ROUNDS, _SHRINK, _FIRST_SCATTER, _LAST_SCATTER, _FAR = 12, 0.8, 3.0, 1.0, 4.0

# A step for derivatives, radians.
_STEP = 1e-4


def turn_onto_lines(camera: Camera, light: NDArray[np.float32], least_step: float) -> Camera:
    """Turn a camera about its own centre so that the court's lines lie on the painted ones.

    Parameters
    ----------
    camera
        of a court that lies nearly on the painted one
    light
        (height, width) in which lines are brighter than the floor
    least_step
        smallest step in brightness of an edge

    Returns
    -------
    The camera turned by the three angles that bring most edges to where they are seen; as it was
    where too few are
    """
    for reach in _REACHES:
        camera = _turn_once(camera, light, reach * max(camera.image_size) / 1280 + 1.0, least_step)
    return camera


def measure_turn(first: Camera, second: Camera) -> float:
    """How far lead angles differ by two cameras of the same picture, degrees: the mean.

    Taken over lines of half a metre along the net, and turned by 45 degrees, about places of both
    halves that the first camera shows; 0 where it shows none, infinite where the second puts one
    above the horizon.
    """
    places = np.array([[x, y] for x in (-2.0, 0.0, 2.0) for y in (-5.5, -4.0, -2.5, 2.5, 4.0, 5.5)])
    turns: list[float] = []
    for lead in np.radians([0.0, -45.0]):
        half = 0.25 * np.array([np.cos(lead), np.sin(lead)])
        with np.errstate(invalid="ignore"):
            ends = [project(first, on_floor(places + sign * half)) for sign in (-1, 1)]
            inside = np.all([(p > 0) & (p < first.image_size) for p in ends], axis=(0, 2))
        one, other = (floor_point(second, pixels[inside])[:, :2] for pixels in ends)
        line = other - one
        turned = np.degrees(np.arctan2(line[:, 1], line[:, 0]) - lead)
        # The same court may be named from its other half.
        turns += np.abs((turned + 90.0) % 180.0 - 90.0).tolist()
    mean = float(np.mean(turns)) if turns else 0.0
    return mean if np.isfinite(mean) else float("inf")


def _turn_once(
    camera: Camera, light: NDArray[np.float32], reach: float, least_step: float
) -> Camera:
    """Turn a camera onto the edges within some pixels of where it puts them."""
    edges = locate_edges(camera, light, reach, least_step)
    found = np.isfinite(edges.offset) & (edges.length > 0)
    if found.sum() < _LEAST_EDGES:
        return camera
    by_angle, offset = _find_effects(camera, edges)[found], edges.offset[found]
    turn = np.zeros(3)
    for number in range(_ROUNDS):
        scatter = max(_LAST_SCATTER, _FIRST_SCATTER * _SHRINK**number)
        off = np.abs(offset - by_angle @ turn) / (_FAR * scatter)
        weight = np.sqrt(edges.length[found]) * np.maximum(1.0 - off**2, 0.0)
        turn = np.linalg.lstsq(by_angle * weight[:, None], offset * weight, rcond=None)[0]
    return _turn(camera, turn)


def _find_effects(camera: Camera, edges: Edges) -> FloatArray:
    """How far each edge moves outwards as the camera turns about its axes, (n, 3) pixels/radian."""
    places = on_floor(LINE_EDGES.places[edges.sample])
    moved = [
        project(_turn(camera, step), places) - project(_turn(camera, -step), places)
        for step in _STEP * np.eye(3)
    ]
    return np.stack([(edges.normal * m).sum(axis=1) for m in moved], axis=1) / (2 * _STEP)


def _turn(camera: Camera, by: FloatArray) -> Camera:
    """A camera turned about its own axes, (3,) radians."""
    turn = scipy.spatial.transform.Rotation.from_rotvec(by).as_matrix()
    return replace(camera, rotation=turn @ camera.rotation, translation=turn @ camera.translation)
