"""Shoes: cross sections along the foot that bend at the ball."""

import numpy as np

from tests.rendering.arrays import FloatArray
from tests.rendering.body import (
    WEIGHTS_PER_VERTEX,
)
from tests.rendering.figure import SHOE, Outfit, Piece
from tests.rendering.grids import grid_triangles
from tests.rendering.light import linear
from tests.rendering.rotations import turn_z
from tests.rendering.shoe_shape import BALL_FRACTION, ShoeShape
from tests.rendering.skeleton import SOLE_THICKNESS_M, Skeleton


def shoe_piece(skeleton: Skeleton, side: str, outfit: Outfit) -> Piece:
    """A shoe: cross sections along the foot, sole in its own colour, bending at the ball."""
    shoe = skeleton.shoes["LR".index(side)]
    sections = np.array([_shoe_section(shoe, k) for k in range(len(shoe.stations))])
    count = sections.shape[1]
    ends = np.stack([sections[0].mean(axis=0), sections[-1].mean(axis=0)])
    local = np.concatenate([sections.reshape(-1, 3), ends])
    vertices = shoe.heel + local @ turn_z(shoe.yaw).T
    grid = grid_triangles(len(sections), count, closed=True)
    first, last = len(local) - 2, len(local) - 1
    ring = np.arange(count)
    back = np.stack([np.full(count, first), ring, np.roll(ring, -1)], axis=1)
    end = (len(sections) - 1) * count
    front = np.stack([np.full(count, last), end + np.roll(ring, -1), end + ring], axis=1)
    colours = np.repeat(linear(outfit.shoes)[None], len(vertices), axis=0)
    colours[local[:, 2] < 1.3 * SOLE_THICKNESS_M] = linear(outfit.soles)
    model = skeleton.body.model
    weights = np.zeros((len(vertices), WEIGHTS_PER_VERTEX))
    bones = np.zeros((len(vertices), WEIGHTS_PER_VERTEX), dtype=np.int64)
    bones[:, 0], bones[:, 1] = model.bone(f"foot.{side}"), model.bone(f"toe3-1.{side}")
    weights[:, 1] = np.clip((local[:, 1] / shoe.length - BALL_FRACTION) / 0.06 + 0.5, 0, 1)
    weights[:, 0] = 1.0 - weights[:, 1]
    return Piece(vertices, np.concatenate([grid, back, front]), colours, weights, bones, SHOE)


def _shoe_section(shoe: ShoeShape, station: int) -> FloatArray:
    """Closed cross section (12, 3) of a shoe: across, along, up, metres from the heel."""
    right, left = shoe.right[station], shoe.left[station]
    top = SOLE_THICKNESS_M + shoe.top[station]
    spring = 0.006 * max(shoe.stations[station] - 0.85, 0.0) / 0.15
    sole = SOLE_THICKNESS_M
    profile = (
        (-0.92, 0.0),
        (0.92, 0.0),
        (1.0, 0.4 * sole),
        (1.0, 1.2 * sole),
        (0.95, 0.45 * (top + sole)),
        (0.72, 0.85 * top),
        (0.3, top),
        (-0.3, top),
        (-0.72, 0.85 * top),
        (-0.95, 0.45 * (top + sole)),
        (-1.0, 1.2 * sole),
        (-1.0, 0.4 * sole),
    )
    along = shoe.stations[station] * shoe.length
    return np.array([[a * (right if a > 0 else left), along, z + spring] for a, z in profile])
