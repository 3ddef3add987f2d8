"""Colours of a hall's surfaces where viewing rays meet them; written into `colour` (3,)."""

from typing import NamedTuple

import numba
import numpy as np

from stance.court.dimensions import COURT_LENGTH, COURT_WIDTH
from tests.rendering.arrays import FloatArray
from tests.rendering.noise import noise
from tests.rendering.rays import overlap
from tests.rendering.schemes import FLOOR_PLANKS, FLOOR_SPECKLED


class Room(NamedTuple):
    """What `Hall` says of surfaces; NamedTuple, so that compiled code can take it."""

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


@numba.njit(cache=True, fastmath=True)
def floor_colour(place, ray, step, room, colour):
    """The floor at a place (x, y), seen along a ray (dx, dy, dz) with pixels of `step` metres."""
    x, y = place
    dx, dy, dz = ray
    bounds, lamps = room.bounds, room.lamps
    down = max(-dz, 1e-6)
    length = np.sqrt(dx * dx + dy * dy + dz * dz)
    step = step * length
    steep = step * length / down
    flat = np.sqrt(dx * dx + dy * dy) + 1e-12
    ux, uy = abs(dx) / flat, abs(dy) / flat
    wx = steep * ux + step * uy + 1e-4
    wy = steep * uy + step * ux + 1e-4
    _painted(place, (wx, wy), room, colour)
    mx, my = x + bounds[4] * dx / down, y + bounds[4] * dy / down
    shine = 0.0
    for k in range(len(lamps) if room.gloss > 0.02 else 0):
        nx = (lamps[k, 0] + lamps[k, 1]) / 2 - mx
        ny = (lamps[k, 2] + lamps[k, 3]) / 2 - my
        apart = (nx * nx + 0.4 * ny * ny) / 0.8
        if apart < 6.0:
            shine += np.exp(-apart)
    edge = min(x - bounds[0], bounds[1] - x, y - bounds[2], bounds[3] - y)
    dark = 0.75 + 0.25 * min(edge / 1.5, 1.0)
    for c in range(3):
        colour[c] = colour[c] * dark + room.gloss * shine


@numba.njit(cache=True, fastmath=True)
def _painted(place, size, room, colour):
    """Albedo of the floor with its lines, averaged over a pixel's footprint (wx, wy)."""
    x, y = place
    wx, wy = size
    colours, circles, lines = room.colours, room.circles, room.lines
    period = COURT_WIDTH + room.neighbour_gap
    neighbour = np.floor(x / period + 0.5)
    folded = x - neighbour * period
    inside = overlap(-COURT_WIDTH / 2, COURT_WIDTH / 2, folded, wx)
    inside *= overlap(-COURT_LENGTH / 2, COURT_LENGTH / 2, y, wy)
    grain = noise(x * 3, y * 3, 0.0) - 0.5
    detail = 0.10 * grain + _floor_detail(x, y, wx, wy, room.floor_kind)
    for c in range(3):
        colour[c] = ((1 - inside) * colours[0, c] + inside * colours[1, c]) * (1 + detail)
    for k in range(len(circles)):
        distance = np.sqrt((x - circles[k, 0]) ** 2 + (y - circles[k, 1]) ** 2)
        share = overlap(circles[k, 2] - 0.025, circles[k, 2] + 0.025, distance, 0.5 * (wx + wy))
        for c in range(3):
            colour[c] += share * (circles[k, 3 + c] - colour[c])
    for k in range(len(lines)):
        across = folded if lines[k, 7] > 0 else x
        share = overlap(lines[k, 0], lines[k, 1], across, wx)
        if share > 0:
            share *= overlap(lines[k, 2], lines[k, 3], y, wy) * (0.96 + 0.15 * grain)
            for c in range(3):
                colour[c] += share * (lines[k, 4 + c] - colour[c])


@numba.njit(cache=True, fastmath=True)
def _floor_detail(x, y, wx, wy, kind):
    """How much brighter planks or speckles make the floor."""
    if kind == FLOOR_PLANKS:
        plank = np.floor(x / 0.07)
        tone = noise(plank * 1.7 + 0.5, np.floor(y / 1.9 + 0.37 * plank) + 0.5, 3.5) - 0.5
        fade = min(1.0, 0.07 / wx) * min(1.0, 0.5 / wy)
        return 0.35 * fade * tone + 0.1 * (noise(x * 90, y * 6, 1.0) - 0.5) * fade
    if kind == FLOOR_SPECKLED:
        fade = min(1.0, 0.02 / max(wx, wy))
        return 0.25 * fade * (noise(x * 60, y * 60, 2.0) - 0.5)
    return 0.0


@numba.njit(cache=True, fastmath=True)
def wall_colour(wall, along, height, room, colour):
    """A wall (0..3) at a place along it and a height."""
    bounds, panels = room.bounds, room.panels
    row = 3 if height < bounds[5] else 4
    tone = 1.0 + 0.08 * (noise(along * 1.3, height * 1.3, wall * 9.0) - 0.5)
    if row == 3 and (along / 1.2) % 1.0 < 0.012:
        tone *= 0.75
    for c in range(3):
        colour[c] = room.colours[row, c] * tone
    for k in range(len(panels)):
        edge = min(along - panels[k, 1], panels[k, 2] - along)
        edge = min(edge, height - panels[k, 3], panels[k, 4] - height)
        if panels[k, 0] == wall and edge > 0:
            for c in range(3):
                colour[c] = panels[k, 5 + c] * (0.6 if edge < 0.05 else 1.0)
    dark = 0.6 + 0.3 * min(height / 2.0, 1.0)
    for c in range(3):
        colour[c] *= dark


@numba.njit(cache=True, fastmath=True)
def ceiling_colour(x, y, room, colour):
    """The ceiling with its beams and lamps."""
    lamps = room.lamps
    for c in range(3):
        colour[c] = room.colours[5, c] * (0.8 if (x / 1.5) % 1.0 < 0.06 else 0.6)
    for k in range(len(lamps)):
        if lamps[k, 0] < x < lamps[k, 1] and lamps[k, 2] < y < lamps[k, 3]:
            for c in range(3):
                colour[c] = lamps[k, 4]


@numba.njit(cache=True, fastmath=True)
def box_colour(box, axis, place, room, colour):
    """A side of a box whose normal is along an axis (0..2), at a place (x, y, z)."""
    x, y, z = place
    light = 1.0 if axis == 2 else (0.72 if axis == 0 else 0.6)
    light *= 1.0 + 0.15 * (noise(x * 6, y * 6, z * 6) - 0.5)
    for c in range(3):
        colour[c] = room.boxes[box, 6 + c] * light
