"""Software rasteriser: z-buffer with sub-pixels, per-pixel shading of vertex attributes.

Pictures are linear light until `encode` turns them into 8-bit sRGB.
"""

from dataclasses import dataclass

import numba
import numpy as np

from tests.rendering.arrays import FloatArray, IntArray, Picture
from tests.rendering.cameras import ViewCamera

NEAREST_M = 0.2
ENCODING_STEPS = 8192
SUBPIXELS = 2

PLAIN, HOOPS, STRIPES, PATCHES, STRANDS, STRINGS = range(6)


@dataclass(frozen=True)
class Mesh:
    """A posed mesh ready to draw.

    `vertices` (v, 3) court frame, metres; `triangles` (t, 3); `colours` (v, 3) linear albedo;
    `texture` (v, 3) coordinates of the procedural texture, metres at rest; `materials` (t,) index
    into `material_table` (m, 8): pattern, its second colour (3), its period in metres, bump height,
    gloss, and light taken away by folds.
    """

    vertices: FloatArray
    triangles: IntArray
    colours: FloatArray
    texture: FloatArray
    materials: IntArray
    material_table: FloatArray


@dataclass(frozen=True)
class Lighting:
    """Light in a hall: `ambient` (3,), and lamps by direction (n, 3) and strength (n, 3)."""

    ambient: FloatArray
    directions: FloatArray
    strengths: FloatArray


@dataclass(frozen=True)
class Window:
    """A rectangle of the full picture, in whole pixels."""

    left: int
    top: int
    width: int
    height: int


@dataclass(frozen=True)
class Layer:
    """A drawn figure: `colour` (h, w, 3) linear, multiplied by `cover` (h, w) in 0..1."""

    colour: FloatArray
    cover: FloatArray


def draw(mesh: Mesh, camera: ViewCamera, window: Window, lighting: Lighting) -> Layer:
    """Draw a mesh.

    Parameters
    ----------
    mesh : Mesh
        What to draw.
    camera : ViewCamera
        The camera.
    window : Window
        Part of the picture to draw.
    lighting : Lighting
        The light.

    Returns
    -------
    Layer
        Colour and cover of the window's pixels.
    """
    points = camera.project(mesh.vertices)
    depth = points[:, 2]
    points[:, 0] = (points[:, 0] - window.left) * SUBPIXELS
    points[:, 1] = (points[:, 1] - window.top) * SUBPIXELS
    points[:, 2] = np.where(depth > NEAREST_M, 1.0 / np.maximum(depth, NEAREST_M), -1.0)
    box = _drawn_box(points, window)
    colour = np.zeros((window.height, window.width, 3), dtype=np.float32)
    cover = np.zeros((window.height, window.width), dtype=np.float32)
    if box is None:
        return Layer(colour, cover)
    left, top, right, bottom = box
    points[:, 0] -= left * SUBPIXELS
    points[:, 1] -= top * SUBPIXELS
    shape = ((bottom - top) * SUBPIXELS, (right - left) * SUBPIXELS)
    stipple = mesh.material_table[mesh.materials, 0] == STRINGS
    index, first, second = _z_buffer(points, mesh.triangles, stipple, shape[0], shape[1])
    normals = vertex_normals(mesh.vertices, mesh.triangles)
    shaded, drawn = _shade(
        index,
        first,
        second,
        points,
        mesh.vertices,
        mesh.triangles,
        normals,
        mesh.colours,
        mesh.texture,
        mesh.materials,
        mesh.material_table,
        camera.centre,
        lighting.ambient,
        lighting.directions,
        lighting.strengths,
    )
    colour[top:bottom, left:right] = shaded
    cover[top:bottom, left:right] = drawn
    return Layer(colour, cover)


def _drawn_box(points: FloatArray, window: Window) -> tuple[int, int, int, int] | None:
    """Left, top, right, bottom of the window's pixels that the points can touch."""
    visible = points[points[:, 2] > 0]
    if len(visible) == 0:
        return None
    low = np.floor(visible[:, :2].min(axis=0) / SUBPIXELS).astype(int) - 1
    high = np.ceil(visible[:, :2].max(axis=0) / SUBPIXELS).astype(int) + 1
    left, top = max(low[0], 0), max(low[1], 0)
    right, bottom = min(high[0], window.width), min(high[1], window.height)
    if right <= left or bottom <= top:
        return None
    return left, top, right, bottom


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
def _z_buffer(points, triangles, stipple, height, width):
    """Triangle index (-1: none) and two barycentric coordinates of each sub-pixel.

    `points` (v, 3): x and y in sub-pixels and one over depth, which is linear in the picture.
    Stippled triangles cover one sub-pixel in four.
    """
    nearest = np.zeros((height, width))
    index = np.full((height, width), -1, dtype=np.int32)
    first = np.zeros((height, width), dtype=np.float32)
    second = np.zeros((height, width), dtype=np.float32)
    for t in range(len(triangles)):
        a, b, c = triangles[t, 0], triangles[t, 1], triangles[t, 2]
        if points[a, 2] <= 0 or points[b, 2] <= 0 or points[c, 2] <= 0:
            continue
        ax, ay, bx, by = points[a, 0], points[a, 1], points[b, 0], points[b, 1]
        cx, cy = points[c, 0], points[c, 1]
        area = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
        if abs(area) < 1e-12:
            continue
        left = max(int(np.floor(min(ax, bx, cx))), 0)
        right = min(int(np.ceil(max(ax, bx, cx))), width - 1)
        top = max(int(np.floor(min(ay, by, cy))), 0)
        bottom = min(int(np.ceil(max(ay, by, cy))), height - 1)
        for y in range(top, bottom + 1):
            py = y + 0.5
            for x in range(left, right + 1):
                if stipple[t] and (x + y % 2) % 4 != 0:
                    continue
                px = x + 0.5
                u = ((px - ax) * (cy - ay) - (py - ay) * (cx - ax)) / area
                if u < 0 or u > 1:
                    continue
                v = ((bx - ax) * (py - ay) - (by - ay) * (px - ax)) / area
                if v < 0 or u + v > 1:
                    continue
                depth = points[a, 2] * (1 - u - v) + points[b, 2] * u + points[c, 2] * v
                if depth > nearest[y, x]:
                    nearest[y, x] = depth
                    index[y, x] = t
                    first[y, x] = u
                    second[y, x] = v
    return index, first, second


@numba.njit(cache=True, fastmath=True, inline="always")
def _hash(i, j, k):
    value = (i * 73856093) ^ (j * 19349663) ^ (k * 83492791)
    value = (value ^ (value >> 13)) * 1274126177
    value = value ^ (value >> 16)
    return (value & 0xFFFF) / 65535.0


@numba.njit(cache=True, fastmath=True)
def noise(x, y, z):
    """Smooth value noise in 0..1 at a point, one cell per unit of length."""
    ix, iy, iz = int(np.floor(x)), int(np.floor(y)), int(np.floor(z))
    fx, fy, fz = x - ix, y - iy, z - iz
    fx = fx * fx * (3 - 2 * fx)
    fy = fy * fy * (3 - 2 * fy)
    fz = fz * fz * (3 - 2 * fz)
    total = 0.0
    for dx in range(2):
        wx = fx if dx else 1 - fx
        for dy in range(2):
            wy = fy if dy else 1 - fy
            for dz in range(2):
                wz = fz if dz else 1 - fz
                total += wx * wy * wz * _hash(ix + dx, iy + dy, iz + dz)
    return total


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


@numba.njit(cache=True, fastmath=True)
def _shade(
    index,
    first,
    second,
    points,
    vertices,
    triangles,
    normals,
    colours,
    texture,
    materials,
    table,
    centre,
    ambient,
    directions,
    strengths,
):
    """Linear colour and cover of each pixel, means over its sub-pixels.

    A pixel that lies wholly on one unpatterned material is shaded once, others at each sub-pixel.
    """
    height, width = index.shape[0] // SUBPIXELS, index.shape[1] // SUBPIXELS
    image = np.zeros((height, width, 3))
    cover = np.zeros((height, width))
    share = 1.0 / SUBPIXELS**2
    colour = np.zeros(3)
    for row in range(height):
        for column in range(width):
            top, left = row * SUBPIXELS, column * SUBPIXELS
            corner = index[top, left]
            uniform = corner >= 0 and table[materials[corner], 0] in (PLAIN, STRANDS)
            for k in range(SUBPIXELS**2):
                t = index[top + k // SUBPIXELS, left + k % SUBPIXELS]
                if t >= 0:
                    cover[row, column] += share
                if t < 0 or (uniform and materials[t] != materials[corner]):
                    uniform = False
            for k in range(SUBPIXELS**2):
                y, x = top + k // SUBPIXELS, left + k % SUBPIXELS
                t = index[y, x]
                if t < 0:
                    continue
                _shade_point(
                    t,
                    first[y, x],
                    second[y, x],
                    points,
                    vertices,
                    triangles,
                    normals,
                    colours,
                    texture,
                    table[materials[t]],
                    centre,
                    ambient,
                    directions,
                    strengths,
                    colour,
                )
                weight = 1.0 if uniform else share
                image[row, column] += weight * colour
                if uniform:
                    break
    return image, cover


@numba.njit(cache=True, fastmath=True)
def _shade_point(
    t,
    u,
    v,
    points,
    vertices,
    triangles,
    normals,
    colours,
    texture,
    material,
    centre,
    ambient,
    directions,
    strengths,
    colour,
):
    """Write the linear colour of a point of triangle `t` (picture barycentrics u, v)."""
    a, b, c = triangles[t, 0], triangles[t, 1], triangles[t, 2]
    wa, wb, wc = (1 - u - v) * points[a, 2], u * points[b, 2], v * points[c, 2]
    total = wa + wb + wc
    wa, wb, wc = wa / total, wb / total, wc / total
    nx = wa * normals[a, 0] + wb * normals[b, 0] + wc * normals[c, 0]
    ny = wa * normals[a, 1] + wb * normals[b, 1] + wc * normals[c, 1]
    nz = wa * normals[a, 2] + wb * normals[b, 2] + wc * normals[c, 2]
    tx = wa * texture[a, 0] + wb * texture[b, 0] + wc * texture[c, 0]
    ty = wa * texture[a, 1] + wb * texture[b, 1] + wc * texture[c, 1]
    tz = wa * texture[a, 2] + wb * texture[b, 2] + wc * texture[c, 2]
    vx = centre[0] - (wa * vertices[a, 0] + wb * vertices[b, 0] + wc * vertices[c, 0])
    vy = centre[1] - (wa * vertices[a, 1] + wb * vertices[b, 1] + wc * vertices[c, 1])
    vz = centre[2] - (wa * vertices[a, 2] + wb * vertices[b, 2] + wc * vertices[c, 2])
    length = np.sqrt(vx * vx + vy * vy + vz * vz)
    vx, vy, vz = vx / length, vy / length, vz / length
    bump = noise(tx * 22, ty * 22, tz * 14) - 0.5
    fine = noise(tx * 41, ty * 41, tz * 30) - 0.5
    nx += material[5] * bump
    ny += material[5] * fine
    nz += material[5] * (bump - fine) * 0.7
    fold = 1.0 + material[7] * (bump + fine)
    length = np.sqrt(nx * nx + ny * ny + nz * nz) + 1e-12
    nx, ny, nz = nx / length, ny / length, nz / length
    if nx * vx + ny * vy + nz * vz < 0:
        nx, ny, nz = -nx, -ny, -nz
    second = _pattern_share(int(material[0]), tx, ty, tz, material[4])
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
    shine *= material[6]
    for channel in range(3):
        base = wa * colours[a, channel] + wb * colours[b, channel] + wc * colours[c, channel]
        base = (1 - second) * base + second * material[1 + channel]
        light = red if channel == 0 else (green if channel == 1 else blue)
        colour[channel] = base * light * fold + shine


def over(layer: Layer, behind: FloatArray) -> FloatArray:
    """The layer over a picture (h, w, 3), linear light."""
    return layer.colour + (1.0 - layer.cover[..., None]) * behind


def linear(colour) -> FloatArray:
    """sRGB values in 0..1 to linear light (gamma 2.2)."""
    return np.asarray(colour, dtype=np.float64) ** 2.2


def _encoding_table() -> Picture:
    """8-bit sRGB of linear light in steps of 1 / ENCODING_STEPS, with soft highlights."""
    light = np.arange(2 * ENCODING_STEPS) / ENCODING_STEPS
    soft = np.where(light > 0.8, 0.8 + 0.2 * np.tanh((light - 0.8) / 0.2), light)
    return np.rint(255.0 * np.clip(soft, 0.0, 1.0) ** (1 / 2.2)).astype(np.uint8)


ENCODING_TABLE = _encoding_table()


def encode(image: FloatArray) -> Picture:
    """Linear light (h, w, 3) to 8-bit sRGB (gamma 2.2), with a soft shoulder for highlights."""
    return _look_up(image, ENCODING_TABLE)


@numba.njit(cache=True)
def _look_up(image, table):
    """Entries of the encoding table for each value of an image (h, w, 3)."""
    result = np.empty(image.shape, dtype=np.uint8)
    last = len(table) - 1
    for row in range(image.shape[0]):
        for column in range(image.shape[1]):
            for c in range(3):
                step = int(image[row, column, c] * ENCODING_STEPS)
                result[row, column, c] = table[min(max(step, 0), last)]
    return result
