"""Software rasteriser: z-buffer with sub-pixels; what is hit is shaded in `shading`."""

from dataclasses import dataclass

import numba
import numpy as np

from tests.rendering.arrays import FloatArray, IntArray
from tests.rendering.cameras import ViewCamera
from tests.rendering.shading import (
    STRINGS,
    SUBPIXELS,
    Hits,
    Lighting,
    Surface,
    View,
    shade,
    vertex_normals,
)

NEAREST_M = 0.2


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
    hits = Hits(*_z_buffer(points, mesh.triangles, stipple, shape[0], shape[1]))
    surface = Surface(
        points,
        mesh.vertices,
        mesh.triangles,
        vertex_normals(mesh.vertices, mesh.triangles),
        mesh.colours,
        mesh.texture,
        mesh.materials,
        mesh.material_table,
    )
    view = View(camera.centre, lighting.ambient, lighting.directions, lighting.strengths)
    shaded, drawn = shade(hits, surface, view)
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


def over(layer: Layer, behind: FloatArray) -> FloatArray:
    """The layer over a picture (h, w, 3), linear light."""
    return layer.colour + (1.0 - layer.cover[..., None]) * behind
