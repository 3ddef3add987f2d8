"""Hair: a shell on the scalp and a pony tail."""

import numpy as np

from tests.rendering.arrays import BoolArray, FloatArray
from tests.rendering.body import (
    WEIGHTS_PER_VERTEX,
    Body,
)
from tests.rendering.figure import HAIR, Outfit, Piece
from tests.rendering.grids import grid_triangles
from tests.rendering.light import linear


def scalp(body: Body, outfit: Outfit) -> tuple[BoolArray, FloatArray]:
    """Which vertices carry hair, and how thick it is there, metres; both (vertices,)."""
    model, size = body.model, head_size(body)
    _, y, z = ((body.vertices - body.head_of("head")) / size).T
    names = np.array(model.bone_names)[model.weight_bones[:, 0]]
    hairline = 0.02 + 0.06 * (1.0 - outfit.hair_length) + 0.55 * (y + 0.02)
    scalp = np.isin(names, ("head", "neck03")) & (z > np.maximum(hairline, -0.06))
    scalp &= ~((y > 0.075) & (z < 0.085))
    thickness = 0.006 + 0.012 * outfit.hair_length + 0.008 * np.clip(z / 0.14, 0, 1)
    return scalp, size * thickness


def head_size(body: Body) -> float:
    """Size of the head against the model's template."""
    return float((body.vertices[:, 2].max() - body.head_of("head")[2]) / 0.145)


def pony_tail(body: Body, outfit: Outfit) -> Piece:
    """A tapered tube that hangs from the back of the head."""
    size = head_size(body)
    head = body.head_of("head")
    start = head + size * np.array([0.0, -0.095, 0.06])
    down = np.linspace(0.0, 1.0, 8)
    angles = np.linspace(0.0, 2 * np.pi, 10, endpoint=False)
    radius = 0.028 * size * np.sqrt(np.clip(np.sin(np.pi * (0.15 + 0.85 * down)), 0.02, 1))
    centres = start + outfit.tail * np.stack([0 * down, -0.35 * np.sin(2.0 * down), -down], axis=1)
    rings = np.stack([np.cos(angles), 0.8 * np.sin(angles), 0 * angles], axis=1)
    vertices = (centres[:, None] + radius[:, None, None] * rings[None]).reshape(-1, 3)
    weights = np.zeros((len(vertices), WEIGHTS_PER_VERTEX))
    weights[:, 0] = 1.0
    bones = np.full((len(vertices), WEIGHTS_PER_VERTEX), body.model.bone("head"))
    colours = np.repeat(linear(outfit.hair)[None], len(vertices), axis=0)
    triangles = grid_triangles(len(down), len(angles), closed=True)
    return Piece(vertices, triangles, colours, weights, bones, HAIR)
