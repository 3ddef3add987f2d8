"""What a camera sees of the court: its lines, the net's top and the crossings of lines."""

from dataclasses import dataclass

import numpy as np

from stance.court.camera import Camera, depth, project
from stance.court.court_file import MarkedCourt
from stance.court.dimensions import court_lines, court_points, net_points
from stance.court.floor_error import floor_direction_error, on_floor
from stance.types import FloatArray

# A place on the floor in the middle of each half, where stances are measured, metres.
_HALF_MIDDLES = ((0.0, -4.0), (0.0, 4.0))


@dataclass(frozen=True, eq=False)
class VisibleCourt:
    """The court's lines and the net's top in a picture.

    Attributes
    ----------
    lines
        courses (points, 2) in pixels along the middles of the painted lines; a course ends where it
        leaves the picture by more than the picture's own size or passes behind the camera.
    net
        the same along the top of the net, from each post to the middle.
    """

    lines: list[FloatArray]
    net: list[FloatArray]


def trace_court(camera: Camera) -> VisibleCourt:
    """Where a camera sees the middles of the court's lines, and the top of the net."""
    lines = []
    for line in court_lines():
        (left, right), (back, front) = line.x, line.y
        if right - left > front - back:
            ends = (left, (back + front) / 2, 0.0), (right, (back + front) / 2, 0.0)
        else:
            ends = ((left + right) / 2, back, 0.0), ((left + right) / 2, front, 0.0)
        lines += _trace(camera, *ends)
    posts = net_points()
    net = [
        *_trace(camera, posts["left post"], posts["middle"]),
        *_trace(camera, posts["middle"], posts["right post"]),
    ]
    return VisibleCourt(lines, net)


def mark_crossings(camera: Camera) -> MarkedCourt:
    """Crossings of lines, each at its middle, where a camera sees them in the picture."""
    places = np.array([place for name, place in court_points().items() if name.endswith("centre")])
    with np.errstate(invalid="ignore"):
        pixels = project(camera, on_floor(places))
        margin = 0.005 * max(camera.image_size)
        inside = ((pixels > margin) & (pixels < np.array(camera.image_size) - margin)).all(axis=1)
    return MarkedCourt(camera.image_size, places[inside], pixels[inside])


def least_direction_error_deg(camera: Camera) -> float:
    """What the marking alone adds to a direction on the better known half, degrees."""
    return float(
        np.nanmin([floor_direction_error(camera, place).direction_deg for place in _HALF_MIDDLES])
    )


def _trace(
    camera: Camera, start: tuple[float, float, float], end: tuple[float, float, float]
) -> list[FloatArray]:
    """A straight line of the court in the picture, as one or no course (points, 2)."""
    points = np.linspace(start, end, 25)
    points = points[depth(camera, points) > 0.2]
    pixels = project(camera, points)
    size = np.array(camera.image_size)
    near = ((pixels > -size) & (pixels < 2 * size)).all(axis=1)
    return [pixels[near]] if near.sum() > 1 else []
