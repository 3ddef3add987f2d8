"""A skirt: one tube around both legs."""

import numpy as np

from tests.rendering.arrays import FloatArray, IntArray
from tests.rendering.body import (
    SPINE,
    WEIGHTS_PER_VERTEX,
    Body,
)
from tests.rendering.figure import TROUSERS, Outfit, Piece
from tests.rendering.grids import grid_triangles
from tests.rendering.light import linear

SKIRT_COLUMNS, SKIRT_ROWS = 40, 9


def skirt_piece(body: Body, outfit: Outfit) -> Piece:
    """A tube around both legs from the waist to the hem, carried by pelvis and thighs."""
    hip, knee = body.head_of("upperleg01.L"), body.head_of("lowerleg01.L")
    top, bottom = hip[2] + 0.08 * body.phenotype.stature_m, hip[2] + 0.5 * (knee[2] - hip[2])
    rows = np.linspace(0.0, 1.0, SKIRT_ROWS)
    angles = np.linspace(0.0, 2 * np.pi, SKIRT_COLUMNS, endpoint=False)
    heights = top + (bottom - top) * rows
    names = np.array(body.model.bone_names)[body.model.weight_bones[:, 0]]
    limb = np.isin(names, SPINE) | (names == "root") | np.char.startswith(names, "upperleg")
    skin = body.vertices[limb]
    half_x, half_y, middle_y = [], [], []
    for height in np.minimum(heights, top):
        level = skin[np.abs(skin[:, 2] - max(height, hip[2] - 0.12)) < 0.035]
        half_x.append(np.abs(level[:, 0]).max())
        half_y.append(0.5 * np.ptp(level[:, 1]))
        middle_y.append(0.5 * (level[:, 1].max() + level[:, 1].min()))
    flare = 0.012 + (0.03 + 0.05 * outfit.looseness) * rows
    wide_x, wide_y = np.maximum.accumulate(half_x), np.maximum.accumulate(half_y)
    ripple = 1.0 + 0.05 * rows[:, None] * np.sin(7 * angles)[None]
    x = (wide_x + flare)[:, None] * np.cos(angles) * ripple
    y = np.array(middle_y)[:, None] + (wide_y + flare)[:, None] * np.sin(angles) * ripple
    z = np.repeat(heights[:, None], SKIRT_COLUMNS, axis=1)
    vertices = np.stack([x, y, z], axis=-1).reshape(-1, 3)
    return Piece(
        vertices,
        grid_triangles(SKIRT_ROWS, SKIRT_COLUMNS, closed=True),
        np.repeat(linear(outfit.trousers)[None], len(vertices), axis=0),
        *_skirt_weights(body, vertices, np.repeat(rows, SKIRT_COLUMNS), wide_x[-1]),
        TROUSERS,
    )


def _skirt_weights(
    body: Body, vertices: FloatArray, down: FloatArray, half: float
) -> tuple[FloatArray, IntArray]:
    """Weights of a skirt: pelvis at the waist, the thigh of its side further down."""
    weights = np.zeros((len(vertices), WEIGHTS_PER_VERTEX))
    bones = np.zeros((len(vertices), WEIGHTS_PER_VERTEX), dtype=np.int64)
    names = ("root", "upperleg01.L", "upperleg01.R")
    bones[:, :3] = [body.model.bone(name) for name in names]
    thigh = 0.9 * np.clip(down * 1.6 - 0.3, 0, 1)
    right = np.clip(0.5 + vertices[:, 0] / (1.4 * half), 0, 1)
    weights[:, 0] = 1.0 - thigh
    weights[:, 1] = thigh * (1.0 - right)
    weights[:, 2] = thigh * right
    return weights, bones
