"""The racket: handle, shaft, frame and strings as one small mesh."""

from functools import lru_cache

import numpy as np

from tests.rendering.arrays import FloatArray, IntArray
from tests.rendering.raster import Mesh
from tests.rendering.shading import PLAIN, STRINGS

# The Laws of Badminton, Law 4.1.1: at most 680 mm long and 230 mm wide.
LENGTH_M, GRIP_FROM_END_M = 0.675, 0.07
HEAD_HALF_LENGTH_M, HEAD_HALF_WIDTH_M = 0.14, 0.108
HANDLE, FRAME, STRING = range(3)


@lru_cache(maxsize=1)
def _racket_parts() -> tuple[FloatArray, IntArray, IntArray, IntArray]:
    """Vertices (v, 3) along, across, normal, from the grip; triangles; part of each vertex and
    of each triangle."""
    end = LENGTH_M - GRIP_FROM_END_M
    middle = end - HEAD_HALF_LENGTH_M
    throat = middle - HEAD_HALF_LENGTH_M
    pieces = [
        (*_tube(np.array([[-GRIP_FROM_END_M, 0, 0], [0.11, 0, 0]]), 0.0135), HANDLE),
        (*_tube(np.array([[0.11, 0, 0], [throat, 0, 0]]), 0.004), FRAME),
    ]
    angles = np.linspace(0, 2 * np.pi, 33)
    oval = np.stack(
        [
            middle + HEAD_HALF_LENGTH_M * np.cos(angles),
            HEAD_HALF_WIDTH_M * np.sin(angles),
            0 * angles,
        ],
        axis=1,
    )
    pieces.append((*_tube(oval, 0.0055), FRAME))
    disc = np.concatenate([[[middle, 0, 0]], oval[:-1]])
    ring = np.arange(1, 33)
    fan = np.stack([np.zeros(32, dtype=int), ring, np.roll(ring, -1)], axis=1)
    pieces.append((disc, fan, STRING))
    starts = np.cumsum([0] + [len(piece[0]) for piece in pieces[:-1]])
    return (
        np.concatenate([piece[0] for piece in pieces]),
        np.concatenate([piece[1] + start for piece, start in zip(pieces, starts, strict=True)]),
        np.concatenate([np.full(len(piece[0]), piece[2]) for piece in pieces]),
        np.concatenate([np.full(len(piece[1]), piece[2]) for piece in pieces]),
    )


def _tube(path: FloatArray, radius: float, sides: int = 6) -> tuple[FloatArray, IntArray]:
    """Vertices and triangles of a tube around a path (n, 3) that lies in the racket's plane."""
    along = np.gradient(path, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    normal = np.array([0.0, 0.0, 1.0])
    across = np.cross(normal, along)
    angles = np.linspace(0, 2 * np.pi, sides, endpoint=False)
    rings = np.cos(angles)[:, None] * normal + np.sin(angles)[:, None] * across[:, None]
    vertices = (path[:, None] + radius * rings).reshape(-1, 3)
    index = np.arange(len(vertices)).reshape(len(path), sides)
    following = np.roll(index, -1, axis=1)
    a, b = index[:-1].ravel(), following[:-1].ravel()
    c, d = index[1:].ravel(), following[1:].ravel()
    return vertices, np.concatenate([np.stack([a, b, c], 1), np.stack([b, d, c], 1)])


def racket_mesh(grip: FloatArray, axes: FloatArray, colours: FloatArray, scale: float) -> Mesh:
    """A racket in the hand.

    Parameters
    ----------
    grip : (3,) array
        Where the hand holds it, court frame, metres.
    axes : (3, 3) array
        Directions along the shaft, across the head and out of the head's plane, in columns.
    colours : (3, 3) array
        Linear colours of handle, frame and strings.
    scale : float
        Size against a full racket; children's are shorter.
    """
    local, triangles, parts, triangle_parts = _racket_parts()
    plain = (PLAIN, 0.0, 0.0, 0.0, 1.0, 0.0, 0.05, 0.0)
    strings = (STRINGS, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0)
    return Mesh(
        vertices=grip + scale * local @ axes.T,
        triangles=triangles,
        colours=colours[parts],
        texture=local,
        materials=triangle_parts,
        material_table=np.array([plain, plain, strings], dtype=np.float64),
    )
