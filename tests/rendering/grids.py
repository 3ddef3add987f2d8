"""Triangles of regular grids of vertices."""

import numpy as np

from tests.rendering.arrays import IntArray


def grid_triangles(rows: int, columns: int, closed: bool) -> IntArray:
    """Triangles of a grid of vertices; `closed` joins the last column to the first."""
    index = np.arange(rows * columns).reshape(rows, columns)
    following = np.roll(index, -1, axis=1)
    last = columns if closed else columns - 1
    a, b = index[:-1, :last].ravel(), following[:-1, :last].ravel()
    c, d = index[1:, :last].ravel(), following[1:, :last].ravel()
    return np.concatenate([np.stack([a, c, b], 1), np.stack([b, c, d], 1)])
