"""Net, tape and posts, ray-cast per pixel."""

import numba
import numpy as np

from stance.court.dimensions import (
    COURT_WIDTH,
    NET_HEIGHT_MIDDLE,
    NET_HEIGHT_POST,
)
from tests.rendering.arrays import FloatArray
from tests.rendering.cameras import ViewCamera
from tests.rendering.hall import Hall
from tests.rendering.raster import Layer
from tests.rendering.rays import overlap

NET_DEPTH_M = 0.76
TAPE_M = 0.075
CORD_M = 0.0012
MESH_M = 0.018
POST_RADIUS_M = 0.02


def render_net(hall: Hall, camera: ViewCamera, rays: FloatArray) -> Layer:
    """Net, tape and posts along viewing rays (h, w, 3), as one semi-transparent layer."""
    colour, cover = _cast_net(rays, camera.centre, camera.focal, hall.net_colour, hall.net_hangs_m)
    return Layer(colour, cover)


@numba.njit(cache=True, fastmath=True)
def _cast_net(rays, eye, focal, net_colour, hangs):
    """Colour (h, w, 3), multiplied by cover, and cover (h, w) of net, tape and posts."""
    height, width = rays.shape[0], rays.shape[1]
    image = np.zeros((height, width, 3), dtype=np.float32)
    cover = np.zeros((height, width), dtype=np.float32)
    half = COURT_WIDTH / 2
    for row in range(height):
        for column in range(width):
            dx, dy, dz = rays[row, column]
            if dy * eye[1] >= 0:
                continue
            t = -eye[1] / dy
            x, z = eye[0] + t * dx, eye[2] + t * dz
            foot = t * np.sqrt(dx * dx + dy * dy + dz * dz) / focal
            if abs(x) > half + 0.1 or z > NET_HEIGHT_POST + 0.05 + max(hangs[0], 0.0) or z < 0:
                continue
            sag = NET_HEIGHT_POST - NET_HEIGHT_MIDDLE - hangs[1]
            top = NET_HEIGHT_POST + hangs[0] - sag * (1 - (x / half) ** 2)
            post = overlap(half - POST_RADIUS_M, half + POST_RADIUS_M, abs(x), foot)
            tape = overlap(top - TAPE_M, top, z, foot) * overlap(-half, half, x, foot)
            inside = overlap(top - NET_DEPTH_M, top - TAPE_M, z, foot)
            inside *= overlap(-half, half, x, foot)
            cords = 2 * CORD_M / MESH_M
            if foot < MESH_M / 2:
                near_x = abs((x / MESH_M) % 1.0 - 0.5) * MESH_M
                near_z = abs((z / MESH_M) % 1.0 - 0.5) * MESH_M
                thick = max(CORD_M, foot)
                cords = CORD_M / thick * max(near_x < thick / 2, near_z < thick / 2)
            share = inside * min(cords, 1.0)
            for c in range(3):
                value = share * net_colour[c]
                value = value * (1 - tape) + tape * 0.85
                value = value * (1 - post) + post * 0.25
                image[row, column, c] = value
            cover[row, column] = 1 - (1 - share) * (1 - tape) * (1 - post)
    return image, cover
