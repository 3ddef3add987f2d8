"""Light on drawn surfaces: normals, procedural materials, lamps, highlights.

Pictures are linear light until `light.encode` turns them into 8-bit sRGB.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numba
import numpy as np

from tests.rendering.arrays import FloatArray, IntArray
from tests.rendering.noise import noise

SUBPIXELS = 2
PLAIN, HOOPS, STRIPES, PATCHES, STRANDS, STRINGS = range(6)


@dataclass(frozen=True)
class Lighting:
    """Light in a hall: `ambient` (3,), and lamps by direction (n, 3) and strength (n, 3)."""

    ambient: FloatArray
    directions: FloatArray
    strengths: FloatArray


class Surface(NamedTuple):
    """A mesh as the camera sees it, as `Mesh`; NamedTuple, so that compiled code can take it.

    `points` (v, 3): x and y in sub-pixels and one over depth; `normals` (v, 3) of unit length.
    """

    points: FloatArray
    vertices: FloatArray
    triangles: IntArray
    normals: FloatArray
    colours: FloatArray
    texture: FloatArray
    materials: IntArray
    material_table: FloatArray


class Hits(NamedTuple):
    """What each sub-pixel (h, w) shows: triangle (-1: none) and two barycentric coordinates."""

    triangle: IntArray
    first: FloatArray
    second: FloatArray


class View(NamedTuple):
    """The camera's place (3,), court frame, metres, and the light, as `Lighting`."""

    eye: FloatArray
    ambient: FloatArray
    directions: FloatArray
    strengths: FloatArray


@numba.njit(cache=True, fastmath=True)
def shade(hits, surface, view):
    """Linear colour (h, w, 3) and cover (h, w) of each pixel, means over its sub-pixels.

    A pixel that lies wholly on one unpatterned material is shaded once, others at each sub-pixel.
    """
    height, width = hits.triangle.shape[0] // SUBPIXELS, hits.triangle.shape[1] // SUBPIXELS
    image = np.zeros((height, width, 3))
    cover = np.zeros((height, width))
    share = 1.0 / SUBPIXELS**2
    colour = np.zeros(3)
    for row in range(height):
        for column in range(width):
            top, left = row * SUBPIXELS, column * SUBPIXELS
            covered, uniform = _covered(hits.triangle, surface, top, left)
            cover[row, column] = share * covered
            weight = 1.0 if uniform else share
            for k in range(SUBPIXELS**2):
                y, x = top + k // SUBPIXELS, left + k % SUBPIXELS
                t = hits.triangle[y, x]
                if t < 0:
                    continue
                _shade_point(t, hits.first[y, x], hits.second[y, x], surface, view, colour)
                image[row, column] += weight * colour
                if uniform:
                    break
    return image, cover


@numba.njit(cache=True, fastmath=True)
def _covered(triangle, surface, top, left):
    """How many sub-pixels of a pixel show something, and whether all one unpatterned material."""
    materials = surface.materials
    corner = triangle[top, left]
    uniform = corner >= 0 and surface.material_table[materials[corner], 0] in (PLAIN, STRANDS)
    covered = 0
    for k in range(SUBPIXELS**2):
        t = triangle[top + k // SUBPIXELS, left + k % SUBPIXELS]
        if t >= 0:
            covered += 1
        if t < 0 or (uniform and materials[t] != materials[corner]):
            uniform = False
    return covered, uniform


@numba.njit(cache=True, fastmath=True)
def _shade_point(t, u, v, surface, view, colour):
    """Write the linear colour of a point of triangle `t` (picture barycentrics u, v)."""
    a, b, c = surface.triangles[t, 0], surface.triangles[t, 1], surface.triangles[t, 2]
    points, material = surface.points, surface.material_table[surface.materials[t]]
    wa, wb, wc = (1 - u - v) * points[a, 2], u * points[b, 2], v * points[c, 2]
    total = wa + wb + wc
    corners, weights = (a, b, c), (wa / total, wb / total, wc / total)
    tx, ty, tz = _between(surface.texture, corners, weights)
    px, py, pz = _between(surface.vertices, corners, weights)
    eye = view.eye
    vx, vy, vz = eye[0] - px, eye[1] - py, eye[2] - pz
    length = np.sqrt(vx * vx + vy * vy + vz * vz)
    vx, vy, vz = vx / length, vy / length, vz / length
    bump = noise(tx * 22, ty * 22, tz * 14) - 0.5
    fine = noise(tx * 41, ty * 41, tz * 30) - 0.5
    nx, ny, nz = _between(surface.normals, corners, weights)
    nx += material[5] * bump
    ny += material[5] * fine
    nz += material[5] * (bump - fine) * 0.7
    fold = 1.0 + material[7] * (bump + fine)
    length = np.sqrt(nx * nx + ny * ny + nz * nz) + 1e-12
    nx, ny, nz = nx / length, ny / length, nz / length
    if nx * vx + ny * vy + nz * vz < 0:
        nx, ny, nz = -nx, -ny, -nz
    second = _pattern_share(int(material[0]), tx, ty, tz, material[4])
    red, green, blue, shine = _lit((nx, ny, nz), (vx, vy, vz), view)
    shine *= material[6]
    for channel in range(3):
        base = weights[0] * surface.colours[a, channel] + weights[1] * surface.colours[b, channel]
        base += weights[2] * surface.colours[c, channel]
        base = (1 - second) * base + second * material[1 + channel]
        light = red if channel == 0 else (green if channel == 1 else blue)
        colour[channel] = base * light * fold + shine


@numba.njit(cache=True, fastmath=True)
def _between(values, corners, weights):
    """The mean of three rows of values (v, 3) by weights."""
    a, b, c = corners
    wa, wb, wc = weights
    return (
        wa * values[a, 0] + wb * values[b, 0] + wc * values[c, 0],
        wa * values[a, 1] + wb * values[b, 1] + wc * values[c, 1],
        wa * values[a, 2] + wb * values[b, 2] + wc * values[c, 2],
    )


@numba.njit(cache=True, fastmath=True)
def _lit(normal, to_eye, view):
    """Red, green and blue light that a point scatters, and the highlight (Blinn and Phong)."""
    nx, ny, nz = normal
    vx, vy, vz = to_eye
    ambient, directions, strengths = view.ambient, view.directions, view.strengths
    sky = 0.62 + 0.38 * nz
    red, green, blue = ambient[0] * sky, ambient[1] * sky, ambient[2] * sky
    shine = 0.0
    for lamp in range(len(directions)):
        lx, ly, lz = directions[lamp, 0], directions[lamp, 1], directions[lamp, 2]
        diffuse = max(nx * lx + ny * ly + nz * lz, 0.0)
        red += strengths[lamp, 0] * diffuse
        green += strengths[lamp, 1] * diffuse
        blue += strengths[lamp, 2] * diffuse
        hx, hy, hz = lx + vx, ly + vy, lz + vz
        half = np.sqrt(hx * hx + hy * hy + hz * hz) + 1e-12
        cosine = max((nx * hx + ny * hy + nz * hz) / half, 0.0)
        cosine = cosine * cosine
        cosine = cosine * cosine
        shine += strengths[lamp, 1] * cosine**6
    return red, green, blue, shine


@numba.njit(cache=True, fastmath=True)
def vertex_normals(vertices, triangles):
    """Unit vertex normals (v, 3): area-weighted means of the triangles' normals."""
    normals = np.zeros(vertices.shape)
    for t in range(len(triangles)):
        a, b, c = triangles[t, 0], triangles[t, 1], triangles[t, 2]
        ux, vx = vertices[b, 0] - vertices[a, 0], vertices[c, 0] - vertices[a, 0]
        uy, vy = vertices[b, 1] - vertices[a, 1], vertices[c, 1] - vertices[a, 1]
        uz, vz = vertices[b, 2] - vertices[a, 2], vertices[c, 2] - vertices[a, 2]
        nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
        for v in (a, b, c):
            normals[v, 0] += nx
            normals[v, 1] += ny
            normals[v, 2] += nz
    for v in range(len(normals)):
        x, y, z = normals[v, 0], normals[v, 1], normals[v, 2]
        length = np.sqrt(x * x + y * y + z * z) + 1e-12
        for k in range(3):
            normals[v, k] /= length
    return normals


@numba.njit(cache=True, fastmath=True)
def _pattern_share(pattern, x, y, z, period):
    """Share in 0..1 of a material's second colour at a texture coordinate."""
    if pattern == HOOPS:
        return 1.0 if (z / period) % 1.0 < 0.35 else 0.0
    if pattern == STRIPES:
        return 1.0 if abs(x) > period and abs(x) < period * 1.5 else 0.0
    if pattern == PATCHES:
        return 1.0 if noise(x / period, y / period, z / period) > 0.55 else 0.0
    if pattern == STRANDS:
        return noise(x / period, y / period, z / (5 * period))
    return 0.0
