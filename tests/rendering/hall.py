"""The sports hall: floor and lines, walls, ceiling, clutter and net, ray-cast per pixel."""

from dataclasses import dataclass

import numba
import numpy as np
from scipy.ndimage import gaussian_filter

from stance.court.dimensions import (
    COURT_LENGTH,
    COURT_WIDTH,
    NET_HEIGHT_MIDDLE,
    NET_HEIGHT_POST,
    court_lines,
)
from tests.rendering.arrays import FloatArray
from tests.rendering.cameras import ViewCamera
from tests.rendering.light import linear
from tests.rendering.noise import noise
from tests.rendering.raster import Layer, Window
from tests.rendering.shading import Lighting
from tests.rendering.splits import choose

NET_DEPTH_M = 0.76
TAPE_M = 0.075
CORD_M = 0.0012
MESH_M = 0.018
POST_RADIUS_M = 0.02
FLOOR_PLAIN, FLOOR_PLANKS, FLOOR_SPECKLED = range(3)

Colour = tuple[float, float, float]


@dataclass(frozen=True)
class Scheme:
    """Colours of a hall, sRGB in 0..1, and the kind of its floor (FLOOR_...)."""

    floor: Colour
    court: Colour
    lines: Colour
    lower_wall: Colour
    upper_wall: Colour
    floor_kind: int


SCHEMES = (
    Scheme(
        (0.72, 0.53, 0.34),
        (0.72, 0.53, 0.34),
        (0.95, 0.95, 0.93),
        (0.80, 0.78, 0.72),
        (0.88, 0.87, 0.84),
        1,
    ),
    Scheme(
        (0.25, 0.45, 0.36),
        (0.25, 0.45, 0.36),
        (0.96, 0.96, 0.96),
        (0.55, 0.60, 0.62),
        (0.80, 0.82, 0.82),
        0,
    ),
    Scheme(
        (0.36, 0.42, 0.50),
        (0.20, 0.42, 0.40),
        (0.94, 0.94, 0.94),
        (0.30, 0.33, 0.40),
        (0.62, 0.64, 0.68),
        0,
    ),
    Scheme(
        (0.62, 0.42, 0.25),
        (0.62, 0.42, 0.25),
        (0.93, 0.90, 0.82),
        (0.62, 0.45, 0.32),
        (0.78, 0.74, 0.66),
        1,
    ),
    Scheme(
        (0.30, 0.36, 0.55),
        (0.30, 0.36, 0.55),
        (0.96, 0.96, 0.96),
        (0.72, 0.72, 0.74),
        (0.86, 0.86, 0.86),
        2,
    ),
    Scheme(
        (0.55, 0.28, 0.22),
        (0.22, 0.42, 0.30),
        (0.96, 0.96, 0.94),
        (0.68, 0.64, 0.56),
        (0.82, 0.80, 0.75),
        0,
    ),
    Scheme(
        (0.80, 0.66, 0.46),
        (0.80, 0.66, 0.46),
        (0.30, 0.45, 0.30),
        (0.85, 0.84, 0.80),
        (0.90, 0.90, 0.88),
        1,
    ),
    Scheme(
        (0.46, 0.48, 0.48),
        (0.46, 0.48, 0.48),
        (0.95, 0.88, 0.35),
        (0.40, 0.50, 0.58),
        (0.74, 0.78, 0.80),
        2,
    ),
    Scheme(
        (0.22, 0.40, 0.46),
        (0.22, 0.40, 0.46),
        (0.95, 0.95, 0.95),
        (0.20, 0.30, 0.36),
        (0.48, 0.55, 0.58),
        0,
    ),
    Scheme(
        (0.68, 0.58, 0.44),
        (0.32, 0.52, 0.36),
        (0.95, 0.95, 0.92),
        (0.74, 0.70, 0.62),
        (0.84, 0.82, 0.78),
        1,
    ),
    Scheme(
        (0.50, 0.36, 0.25),
        (0.50, 0.36, 0.25),
        (0.92, 0.92, 0.92),
        (0.50, 0.52, 0.48),
        (0.70, 0.72, 0.68),
        1,
    ),
    Scheme(
        (0.58, 0.60, 0.62),
        (0.30, 0.50, 0.58),
        (0.97, 0.97, 0.97),
        (0.60, 0.56, 0.52),
        (0.76, 0.74, 0.72),
        2,
    ),
    Scheme(
        (0.35, 0.30, 0.28),
        (0.24, 0.36, 0.30),
        (0.90, 0.90, 0.88),
        (0.34, 0.32, 0.32),
        (0.56, 0.54, 0.54),
        0,
    ),
    Scheme(
        (0.76, 0.60, 0.40),
        (0.76, 0.60, 0.40),
        (0.20, 0.25, 0.45),
        (0.78, 0.76, 0.78),
        (0.86, 0.86, 0.90),
        1,
    ),
    Scheme(
        (0.42, 0.22, 0.26),
        (0.42, 0.22, 0.26),
        (0.95, 0.94, 0.90),
        (0.64, 0.66, 0.60),
        (0.80, 0.80, 0.76),
        2,
    ),
)
FOREIGN_LINE_COLOURS = (
    (0.85, 0.20, 0.18),
    (0.15, 0.25, 0.60),
    (0.92, 0.80, 0.20),
    (0.10, 0.10, 0.10),
    (0.20, 0.55, 0.30),
    (0.90, 0.90, 0.90),
)
CLUTTER_COLOURS = (
    (0.62, 0.45, 0.28),
    (0.20, 0.25, 0.45),
    (0.65, 0.18, 0.15),
    (0.25, 0.28, 0.28),
    (0.80, 0.78, 0.72),
    (0.20, 0.45, 0.35),
)


@dataclass(frozen=True)
class Hall:
    """All of a hall that a picture needs; colours are linear light.

    `bounds` (6,): x, x, y, y of the walls, and the heights of ceiling and of the lower wall's
    edge, metres. `colours` (6, 3): floor, court, lines, lower wall, upper wall, ceiling.
    `lines` (n, 8): x0, x1, y0, y1 of painted rectangles, colour (3), 1 where repeated on the
    neighbouring courts. `circles` (n, 6): centre, radius, colour. `boxes` (n, 9): lowest corner,
    highest corner, colour. `panels` (n, 8): wall (0..3), from, to along it, from, to in height,
    colour. `lamps` (n, 5): x0, x1, y0, y1 on the ceiling and brightness.
    """

    bounds: FloatArray
    colours: FloatArray
    lines: FloatArray
    circles: FloatArray
    boxes: FloatArray
    panels: FloatArray
    lamps: FloatArray
    floor_kind: int
    neighbour_gap: float
    gloss: float
    net_colour: FloatArray
    lighting: Lighting


def draw_hall(rng: np.random.Generator, split: str, camera: FloatArray) -> Hall:
    """A random hall in the split's colours, large enough to hold the camera at (3,) metres."""
    scheme = choose(rng, split, SCHEMES)
    painted = (scheme.floor, scheme.court, scheme.lines, scheme.lower_wall, scheme.upper_wall)
    shade = rng.uniform(0.9, 1.1)
    ceiling = linear(np.full(3, rng.uniform(0.35, 0.85)))
    colours = np.array([*(shade * linear(c) for c in painted), ceiling])
    half_x, half_y = COURT_WIDTH / 2, COURT_LENGTH / 2
    room = rng.uniform((1.2, 1.2, 1.0, 1.0), (13.0, 13.0, 6.0, 6.0))
    bounds = np.array(
        [
            min(-half_x - room[0], camera[0] - 0.6),
            max(half_x + room[1], camera[0] + 0.6),
            min(-half_y - room[2], camera[1] - 0.6),
            max(half_y + room[3], camera[1] + 0.6),
            rng.uniform(6.0, 10.0),
            rng.uniform(1.2, 3.0),
        ]
    )
    tint = np.clip(1.0 + rng.normal(0, 0.05, 3), 0.85, 1.15)
    return Hall(
        bounds=bounds,
        colours=np.clip(colours, 0, 1),
        lines=_all_lines(rng, colours[2], bounds),
        circles=_foreign_circles(rng),
        boxes=_clutter(rng, bounds),
        panels=_wall_panels(rng, bounds),
        lamps=_lamps(rng, bounds),
        floor_kind=scheme.floor_kind,
        neighbour_gap=rng.uniform(1.2, 2.5),
        gloss=rng.uniform(0.0, 0.12),
        net_colour=linear(np.full(3, rng.uniform(0.08, 0.4))),
        lighting=_lighting(rng, tint),
    )


def _all_lines(rng: np.random.Generator, colour: FloatArray, bounds: FloatArray) -> FloatArray:
    """The court's lines, repeated on neighbouring courts, under a few lines of other sports."""
    rows = []
    if rng.uniform() < 0.6:
        for _ in range(rng.integers(2, 7)):
            tint = linear(FOREIGN_LINE_COLOURS[rng.integers(len(FOREIGN_LINE_COLOURS))])
            width = rng.choice((0.04, 0.05, 0.05, 0.08))
            if rng.uniform() < 0.5:
                x = rng.uniform(bounds[0], bounds[1])
                rows.append((x, x + width, -9.0, rng.uniform(3.0, 9.0), *tint, 0.0))
            else:
                y = rng.uniform(-7.5, 7.5)
                rows.append((rng.uniform(bounds[0], 0.0), bounds[1], y, y + width, *tint, 0.0))
    rows += [(*line.x, *line.y, *colour, 1.0) for line in court_lines()]
    return np.array(rows)


def _foreign_circles(rng: np.random.Generator) -> FloatArray:
    """Circles and arcs of other sports, (n, 6)."""
    count = rng.integers(0, 3) if rng.uniform() < 0.6 else 0
    rows = [
        (
            *rng.uniform((-6, -8), (6, 8)),
            rng.uniform(1.5, 6.75),
            *linear(FOREIGN_LINE_COLOURS[rng.integers(len(FOREIGN_LINE_COLOURS))]),
        )
        for _ in range(count)
    ]
    return np.array(rows).reshape(-1, 6)


def _clutter(rng: np.random.Generator, bounds: FloatArray) -> FloatArray:
    """Benches, boxes and bags along the walls and beside the court, (n, 9)."""
    rows = []
    for _ in range(rng.integers(2, 12)):
        size = rng.uniform((0.25, 0.25, 0.2), (1.2, 1.8, 1.3))
        if rng.uniform() < 0.35:
            size = np.array([0.32, rng.uniform(1.5, 3.0), 0.42])
        if rng.uniform() < 0.5:
            size[:2] = size[1::-1]
        side = rng.integers(4)
        x = rng.uniform(bounds[0], bounds[1] - size[0])
        y = rng.uniform(bounds[2], bounds[3] - size[1])
        gap = rng.uniform(0.0, 0.4)
        x = (bounds[0] + gap, bounds[1] - gap - size[0], x, x)[side]
        y = (y, y, bounds[2] + gap, bounds[3] - gap - size[1])[side]
        low = np.array([x, y, 0.0])
        colour = linear(CLUTTER_COLOURS[rng.integers(len(CLUTTER_COLOURS))])
        rows.append((*low, *(low + size), *np.clip(colour * rng.uniform(0.7, 1.3), 0, 1)))
    return np.array(rows)


def _wall_panels(rng: np.random.Generator, bounds: FloatArray) -> FloatArray:
    """Doors, windows, mats and boards on the walls, (n, 8)."""
    rows = []
    for wall in range(4):
        low, high = (bounds[2], bounds[3]) if wall < 2 else (bounds[0], bounds[1])
        if rng.uniform() < 0.4:
            count, bottom = rng.integers(2, 7), rng.uniform(2.6, 4.0)
            edges = np.linspace(low, high, 2 * count + 2)
            glass = rng.uniform(0.4, 1.0) * np.array([0.9, 1.0, 1.05])
            rows += [
                (wall, a, b, bottom, bottom + 1.4, *glass)
                for a, b in zip(edges[1::2], edges[2::2], strict=False)
            ]
        for _ in range(rng.integers(0, 5)):
            start, bottom = rng.uniform(low, high), rng.choice((0.0, 0.0, 0.8, 1.2))
            width, height = rng.uniform((0.6, 0.5), (2.5, 2.1))
            colour = linear(CLUTTER_COLOURS[rng.integers(len(CLUTTER_COLOURS))])
            rows.append((wall, start, start + width, bottom, bottom + height, *colour))
    return np.array(rows).reshape(-1, 8)


def _lamps(rng: np.random.Generator, bounds: FloatArray) -> FloatArray:
    """Rows of ceiling lamps, (n, 5)."""
    spacing = rng.uniform(2.5, 4.5)
    size = rng.uniform((0.3, 0.8), (0.8, 1.6))
    return np.array(
        [
            (x, x + size[0], y, y + size[1], 1.6)
            for x in np.arange(bounds[0] + 1, bounds[1] - 1, spacing)
            for y in np.arange(bounds[2] + 1, bounds[3] - 1, spacing)
        ]
    ).reshape(-1, 5)


def _lighting(rng: np.random.Generator, tint: FloatArray) -> Lighting:
    """Ambient light and three lamps overhead, one of them stronger."""
    count = 3
    azimuths, heights = rng.uniform(0, 2 * np.pi, count), rng.uniform(0.5, 1.35, count)
    directions = np.stack(
        [
            np.cos(azimuths) * np.cos(heights),
            np.sin(azimuths) * np.cos(heights),
            np.sin(heights),
        ],
        axis=1,
    )
    ambient = rng.uniform(0.35, 0.6)
    shares = rng.dirichlet((2.0, 2.0, 2.0)) * (1.15 - ambient)
    return Lighting(ambient * tint, directions, shares[:, None] * tint[None])


def render_hall(hall: Hall, camera: ViewCamera, rays: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The empty hall without the net, along viewing rays (h, w, 3).

    Returns
    -------
    (h, w, 3) array
        Linear light.
    (h, w, 2) array
        Court-frame x and y, metres, where a pixel shows the floor; NaN elsewhere.
    """
    return _cast(
        rays,
        camera.centre,
        hall.bounds,
        hall.colours,
        hall.lines,
        hall.circles,
        hall.boxes,
        hall.panels,
        hall.lamps,
        hall.floor_kind,
        hall.neighbour_gap,
        hall.gloss,
        camera.focal,
    )


def pixel_rays(camera: ViewCamera, window: Window) -> FloatArray:
    """Viewing rays (h, w, 3) through the pixels' centres, court frame, not of unit length."""
    middle = camera.matrix[:2, 2] - (window.left, window.top)
    shape = (window.height, window.width)
    return _rays(shape, middle, camera.focal, camera.distortion, camera.rotation)


@numba.njit(cache=True, fastmath=True)
def _rays(shape, middle, focal, distortion, rotation):
    """Rays (h, w, 3); `middle` (2,) is the principal point from the window's corner."""
    rays = np.empty((shape[0], shape[1], 3))
    for row in range(shape[0]):
        for column in range(shape[1]):
            shown_x = (column + 0.5 - middle[0]) / focal
            shown_y = (row + 0.5 - middle[1]) / focal
            x, y = shown_x, shown_y
            for _ in range(4 if distortion != 0.0 else 0):
                scale = 1.0 + distortion * min(x * x + y * y, 1.0)
                x, y = shown_x / scale, shown_y / scale
            for k in range(3):
                rays[row, column, k] = x * rotation[0, k] + y * rotation[1, k] + rotation[2, k]
    return rays


@numba.njit(cache=True, fastmath=True)
def _overlap(low, high, middle, width):
    """Share of the interval of a width around a middle that lies between low and high."""
    start, end = max(low, middle - width / 2), min(high, middle + width / 2)
    return max(end - start, 0.0) / width


@numba.njit(cache=True, fastmath=True)
def _floor(x, y, wx, wy, colours, lines, circles, kind, gap, colour):
    """Write the floor's albedo at a point, averaged over a pixel's footprint wx by wy."""
    period = COURT_WIDTH + gap
    neighbour = np.floor(x / period + 0.5)
    folded = x - neighbour * period
    inside = _overlap(-COURT_WIDTH / 2, COURT_WIDTH / 2, folded, wx)
    inside *= _overlap(-COURT_LENGTH / 2, COURT_LENGTH / 2, y, wy)
    grain = noise(x * 3, y * 3, 0.0) - 0.5
    detail = 0.10 * grain
    if kind == FLOOR_PLANKS:
        plank = np.floor(x / 0.07)
        tone = noise(plank * 1.7 + 0.5, np.floor(y / 1.9 + 0.37 * plank) + 0.5, 3.5) - 0.5
        fade = min(1.0, 0.07 / wx) * min(1.0, 0.5 / wy)
        detail += 0.35 * fade * tone + 0.1 * (noise(x * 90, y * 6, 1.0) - 0.5) * fade
    elif kind == FLOOR_SPECKLED:
        fade = min(1.0, 0.02 / max(wx, wy))
        detail += 0.25 * fade * (noise(x * 60, y * 60, 2.0) - 0.5)
    for c in range(3):
        colour[c] = ((1 - inside) * colours[0, c] + inside * colours[1, c]) * (1 + detail)
    for k in range(len(circles)):
        distance = np.sqrt((x - circles[k, 0]) ** 2 + (y - circles[k, 1]) ** 2)
        share = _overlap(circles[k, 2] - 0.025, circles[k, 2] + 0.025, distance, 0.5 * (wx + wy))
        for c in range(3):
            colour[c] += share * (circles[k, 3 + c] - colour[c])
    for k in range(len(lines)):
        place = folded if lines[k, 7] > 0 else x
        share = _overlap(lines[k, 0], lines[k, 1], place, wx)
        if share > 0:
            share *= _overlap(lines[k, 2], lines[k, 3], y, wy) * (0.96 + 0.15 * grain)
            for c in range(3):
                colour[c] += share * (lines[k, 4 + c] - colour[c])


@numba.njit(cache=True, fastmath=True)
def _wall(wall, along, height, bounds, colours, panels, colour):
    """Write a wall's albedo."""
    row = 3 if height < bounds[5] else 4
    tone = 1.0 + 0.08 * (noise(along * 1.3, height * 1.3, wall * 9.0) - 0.5)
    if row == 3 and (along / 1.2) % 1.0 < 0.012:
        tone *= 0.75
    for c in range(3):
        colour[c] = colours[row, c] * tone
    for k in range(len(panels)):
        edge = min(along - panels[k, 1], panels[k, 2] - along)
        edge = min(edge, height - panels[k, 3], panels[k, 4] - height)
        if panels[k, 0] == wall and edge > 0:
            for c in range(3):
                colour[c] = panels[k, 5 + c] * (0.6 if edge < 0.05 else 1.0)


@numba.njit(cache=True, fastmath=True)
def _cast(
    rays,
    eye,
    bounds,
    colours,
    lines,
    circles,
    boxes,
    panels,
    lamps,
    floor_kind,
    gap,
    gloss,
    focal,
):
    """Colour (h, w, 3) and floor place (h, w, 2) of each viewing ray (h, w, 3)."""
    height, width = rays.shape[0], rays.shape[1]
    image = np.empty((height, width, 3), dtype=np.float32)
    place = np.full((height, width, 2), np.nan)
    colour = np.zeros(3)
    for row in range(height):
        for column in range(width):
            dx, dy, dz = rays[row, column]
            far, surface, axis = 1e9, 0, 0
            for k in range(3):
                d = rays[row, column, k]
                low = bounds[2 * k] if k < 2 else 0.0
                high = bounds[2 * k + 1] if k < 2 else bounds[4]
                if abs(d) > 1e-12:
                    t = ((high if d > 0 else low) - eye[k]) / d
                    if t < far:
                        far, axis = t, k
                        surface = 2 * k + (1 if d > 0 else 0)
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
            x, y, z = eye[0] + far * dx, eye[1] + far * dy, eye[2] + far * dz
            shine = 0.0
            if hit_box >= 0:
                light = 1.0 if box_axis == 2 else (0.72 if box_axis == 0 else 0.6)
                light *= 1.0 + 0.15 * (noise(x * 6, y * 6, z * 6) - 0.5)
                for c in range(3):
                    colour[c] = boxes[hit_box, 6 + c] * light
            elif surface == 4:
                down = max(-dz, 1e-6)
                length = np.sqrt(dx * dx + dy * dy + dz * dz)
                step = far * length / focal
                steep = step * length / down
                flat = np.sqrt(dx * dx + dy * dy) + 1e-12
                ux, uy = abs(dx) / flat, abs(dy) / flat
                wx = steep * ux + step * uy + 1e-4
                wy = steep * uy + step * ux + 1e-4
                _floor(x, y, wx, wy, colours, lines, circles, floor_kind, gap, colour)
                place[row, column, 0] = x
                place[row, column, 1] = y
                mx, my = x + bounds[4] * dx / down, y + bounds[4] * dy / down
                for k in range(len(lamps) if gloss > 0.02 else 0):
                    nx = (lamps[k, 0] + lamps[k, 1]) / 2 - mx
                    ny = (lamps[k, 2] + lamps[k, 3]) / 2 - my
                    apart = (nx * nx + 0.4 * ny * ny) / 0.8
                    if apart < 6.0:
                        shine += np.exp(-apart)
                edge = min(x - bounds[0], bounds[1] - x, y - bounds[2], bounds[3] - y)
                dark = 0.75 + 0.25 * min(edge / 1.5, 1.0)
                for c in range(3):
                    colour[c] = colour[c] * dark + gloss * shine
            elif surface == 5:
                for c in range(3):
                    colour[c] = colours[5, c] * (0.8 if (x / 1.5) % 1.0 < 0.06 else 0.6)
                for k in range(len(lamps)):
                    if lamps[k, 0] < x < lamps[k, 1] and lamps[k, 2] < y < lamps[k, 3]:
                        for c in range(3):
                            colour[c] = lamps[k, 4]
            else:
                along = y if axis == 0 else x
                _wall(surface, along, z, bounds, colours, panels, colour)
                dark = 0.6 + 0.3 * min(z / 2.0, 1.0)
                for c in range(3):
                    colour[c] *= dark
            for c in range(3):
                image[row, column, c] = colour[c]
    return image, place


def render_net(hall: Hall, camera: ViewCamera, rays: FloatArray) -> Layer:
    """Net, tape and posts along viewing rays (h, w, 3), as one semi-transparent layer."""
    colour, cover = _cast_net(rays, camera.centre, camera.focal, hall.net_colour)
    return Layer(colour, cover)


@numba.njit(cache=True, fastmath=True)
def _cast_net(rays, eye, focal, net_colour):
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
            if abs(x) > half + 0.1 or z > NET_HEIGHT_POST + 0.05 or z < 0:
                continue
            sag = NET_HEIGHT_POST - NET_HEIGHT_MIDDLE
            top = NET_HEIGHT_POST - sag * (1 - (x / half) ** 2)
            post = _overlap(half - POST_RADIUS_M, half + POST_RADIUS_M, abs(x), foot)
            tape = _overlap(top - TAPE_M, top, z, foot) * _overlap(-half, half, x, foot)
            inside = _overlap(top - NET_DEPTH_M, top - TAPE_M, z, foot)
            inside *= _overlap(-half, half, x, foot)
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


def floor_shadow(
    place: FloatArray, figures: list[FloatArray], lighting: Lighting, softness: float
) -> FloatArray:
    """Light left on the floor, (h, w) in 0..1, under and beside figures.

    Parameters
    ----------
    place : (h, w, 2) array
        Where each pixel shows the floor (NaN elsewhere).
    figures : list of (n, 3) arrays
        Vertices of the figures, court frame, metres.
    lighting : Lighting
        Whose lamps cast the shadows.
    softness : float
        Radius of the shadows' soft edge, metres.
    """
    light = np.ones(place.shape[:2], dtype=np.float32)
    for vertices in figures:
        light *= _one_shadow(place, vertices, lighting, softness)
    return light


def _one_shadow(
    place: FloatArray, vertices: FloatArray, lighting: Lighting, softness: float
) -> FloatArray:
    step, count = 0.025, 160
    origin = vertices[:, :2].mean(axis=0) - 0.5 * step * count
    ambient = float(lighting.ambient.mean())
    lamps = lighting.strengths.mean(axis=1)
    total = ambient + float((lamps * lighting.directions[:, 2]).sum())
    dark = np.zeros((count, count))
    contact = np.exp(-vertices[:, 2] / 0.12)
    splats = [(vertices[:, :2], contact, 0.35, 0.035), (vertices[:, :2], 1.0, 0.3, 0.3)]
    for direction, strength in zip(lighting.directions, lamps, strict=True):
        cast = vertices[:, :2] - vertices[:, 2:] * direction[:2] / direction[2]
        splats.append((cast, 1.0, float(strength * direction[2]) / total, softness))
    for points, weight, depth, blur in splats:
        cell = ((points - origin) / step).astype(int)
        keep = ((cell >= 0) & (cell < count)).all(axis=1)
        flat = cell[keep, 0] * count + cell[keep, 1]
        weights = np.broadcast_to(weight, len(points))[keep]
        hits = np.bincount(flat, weights, minlength=count * count).reshape(count, count)
        solid = np.minimum(gaussian_filter(np.minimum(hits, 3.0) / 2.0, 1.2), 1.0)
        dark += depth * gaussian_filter(solid, blur / step)
    return _sample_light(place, origin, step, np.minimum(dark, 0.85))


@numba.njit(cache=True, fastmath=False)
def _sample_light(place, origin, step, dark):
    """One minus the darkness at each floor place, bilinear between grid cells."""
    height, width = place.shape[0], place.shape[1]
    light = np.ones((height, width), dtype=np.float32)
    for row in range(height):
        for column in range(width):
            x = (place[row, column, 0] - origin[0]) / step - 0.5
            y = (place[row, column, 1] - origin[1]) / step - 0.5
            if not (0 <= x < dark.shape[0] - 1 and 0 <= y < dark.shape[1] - 1):
                continue
            i, j = int(x), int(y)
            u, v = x - i, y - j
            low = dark[i, j] * (1 - v) + dark[i, j + 1] * v
            high = dark[i + 1, j] * (1 - v) + dark[i + 1, j + 1] * v
            light[row, column] = 1.0 - (low * (1 - u) + high * u)
    return light
