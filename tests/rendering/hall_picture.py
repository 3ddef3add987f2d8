"""The empty hall as a camera sees it, ray-cast per pixel."""

import numba
import numpy as np

from tests.rendering.arrays import FloatArray
from tests.rendering.cameras import ViewCamera
from tests.rendering.hall import Hall
from tests.rendering.surfaces import Room, box_colour, ceiling_colour, floor_colour, wall_colour

# The room's six surfaces by number; 0 to 3 are the walls.
FLOOR, CEILING = 4, 5


def render_hall(hall: Hall, camera: ViewCamera, rays: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The empty hall without the net, along viewing rays (h, w, 3).

    Returns
    -------
    (h, w, 3) array
        Linear light.
    (h, w, 2) array
        Court-frame x and y, metres, where a pixel shows the floor; NaN elsewhere.
    """
    room = Room(**{name: getattr(hall, name) for name in Room._fields})
    return _cast(rays, camera.centre, room, camera.focal)


@numba.njit(cache=True, fastmath=True)
def _cast(rays, eye, room, focal):
    """Colour (h, w, 3) and floor place (h, w, 2) of each viewing ray (h, w, 3)."""
    height, width = rays.shape[0], rays.shape[1]
    image = np.empty((height, width, 3), dtype=np.float32)
    place = np.full((height, width, 2), np.nan)
    colour = np.zeros(3)
    for row in range(height):
        for column in range(width):
            dx, dy, dz = rays[row, column]
            far, surface = _surface_hit(rays[row, column], eye, room.bounds)
            far, box, box_axis = _box_hit(rays[row, column], eye, room.boxes, far)
            x, y, z = eye[0] + far * dx, eye[1] + far * dy, eye[2] + far * dz
            if box >= 0:
                box_colour(box, box_axis, (x, y, z), room, colour)
            elif surface == FLOOR:
                floor_colour((x, y), (dx, dy, dz), far / focal, room, colour)
                place[row, column, 0] = x
                place[row, column, 1] = y
            elif surface == CEILING:
                ceiling_colour(x, y, room, colour)
            else:
                wall_colour(surface, y if surface < 2 else x, z, room, colour)
            for c in range(3):
                image[row, column, c] = colour[c]
    return image, place


@numba.njit(cache=True, fastmath=True)
def _surface_hit(ray, eye, bounds):
    """Which of the room's surfaces a ray meets, and how many times its length away."""
    far, surface = 1e9, 0
    for k in range(3):
        low = bounds[2 * k] if k < 2 else 0.0
        high = bounds[2 * k + 1] if k < 2 else bounds[4]
        if abs(ray[k]) > 1e-12:
            t = ((high if ray[k] > 0 else low) - eye[k]) / ray[k]
            if t < far:
                far = t
                surface = 2 * k + (1 if ray[k] > 0 else 0)
    return far, surface


@numba.njit(cache=True, fastmath=True)
def _box_hit(ray, eye, boxes, far):
    """How far the nearest box on a ray is, its number (-1: none) and the axis of the side met."""
    dx, dy, dz = ray
    hit_box, box_axis = -1, 0
    inverse_x = 1.0 / (dx if abs(dx) > 1e-12 else 1e-12)
    inverse_y = 1.0 / (dy if abs(dy) > 1e-12 else 1e-12)
    inverse_z = 1.0 / (dz if abs(dz) > 1e-12 else 1e-12)
    for k in range(len(boxes)):
        near_t, far_t, near_axis = 0.0, far, 0
        for j in range(3):
            inverse = inverse_x if j == 0 else (inverse_y if j == 1 else inverse_z)
            t0 = (boxes[k, j] - eye[j]) * inverse
            t1 = (boxes[k, 3 + j] - eye[j]) * inverse
            if t0 > t1:
                t0, t1 = t1, t0
            if t0 > near_t:
                near_t, near_axis = t0, j
            far_t = min(far_t, t1)
        if near_t < far_t and near_t > 0.05:
            far, hit_box, box_axis = near_t, k, near_axis
    return far, hit_box, box_axis
