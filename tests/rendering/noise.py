"""Smooth noise in space, from which surfaces get their grain."""

import numba
import numpy as np


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
