"""Shoes of other soles, heels and outlines than the first renderer's.

Heel and toe of a foot are the ends of its shoe on the floor, as docs/definitions.md has them.
"""

from dataclasses import dataclass, replace

import numpy as np

from tests.rendering.arrays import FloatArray
from tests.rendering.body import WEIGHTS_PER_VERTEX
from tests.rendering.grids import grid_triangles
from tests.rendering.path_traced.clothes import Piece
from tests.rendering.path_traced.models import Colour, Surface
from tests.rendering.rotations import turn_z
from tests.rendering.shoe_shape import BALL_FRACTION, ShoeShape
from tests.rendering.skeleton import SOLE_THICKNESS_M, Skeleton

_STATIONS = np.concatenate([[0.0, 0.015, 0.04], np.linspace(0.08, 0.92, 18), [0.96, 0.985, 1.0]])


@dataclass(frozen=True)
class Footwear:
    """One kind of shoe; metres unless stated otherwise.

    `heel` and `fore` are the sole's thickness behind and before, `flare` how far it stands out
    beside the upper, `overhang` how far it stands out behind the heel, `longer` room before the
    toes; `width` multiplies the foot's; `bevel` is how much of the sole's end behind curves up;
    `spring` how far the tip stands above the floor; `collar` the upper's height at the ankle
    against the ankle's; `point` how pointed the tip is, 0 to 1.
    """

    heel: float
    fore: float
    flare: float
    overhang: float
    longer: float
    width: float
    bevel: float
    spring: float
    collar: float
    point: float
    upper: Colour
    side: Colour
    outsole: Colour
    gloss: float


def draw_footwear(rng: np.random.Generator) -> Footwear:
    """Flat court shoes, cushioned running shoes, high ones, narrow ones."""
    fore = float(rng.uniform(0.008, 0.028))
    bright = rng.uniform(0.0, 0.9, 3)
    return Footwear(
        heel=fore + float(rng.uniform(0.0, 0.016)),
        fore=fore,
        flare=float(rng.uniform(0.0, 0.012)),
        overhang=float(rng.uniform(-0.002, 0.018)),
        longer=float(rng.uniform(0.0, 0.018)),
        width=float(rng.uniform(0.9, 1.12)),
        bevel=float(rng.uniform(0.0, 0.02)),
        spring=float(rng.uniform(0.0, 0.022)),
        collar=float(rng.choice((0.85, 1.1, 1.5)) * rng.uniform(0.9, 1.1)),
        point=float(rng.uniform(0.0, 1.0)),
        upper=_colour(bright if rng.uniform() < 0.6 else np.full(3, rng.choice((0.03, 0.8)))),
        side=_colour(np.full(3, rng.uniform(0.5, 0.9)) if rng.uniform() < 0.6 else bright[::-1]),
        outsole=_colour(rng.choice(((0.35, 0.2, 0.08), (0.03, 0.03, 0.03), (0.7, 0.7, 0.7)))),
        gloss=float(rng.uniform(0.25, 0.8)),
    )


def shod(skeleton: Skeleton, kind: Footwear) -> Skeleton:
    """The skeleton that stands in shoes of a kind."""
    heads = skeleton.heads + np.array([0.0, 0.0, kind.heel - SOLE_THICKNESS_M])
    shoes = tuple(_refitted(shoe, kind) for shoe in skeleton.shoes)
    for side, shoe in zip("LR", shoes, strict=True):
        heads[skeleton.body.model.bone(f"toe3-1.{side}")] = shoe.ball
    return replace(skeleton, heads=heads, shoes=(shoes[0], shoes[1]))


def _refitted(shoe: ShoeShape, kind: Footwear) -> ShoeShape:
    back = kind.overhang * turn_z(shoe.yaw)[:, 1]
    return replace(shoe, heel=shoe.heel - back, length=shoe.length + kind.overhang + kind.longer)


def shoe_pieces(skeleton: Skeleton, side: str, kind: Footwear) -> list[Piece]:
    """Outsole, side and upper of a shoe at rest, of a skeleton that is `shod` in them."""
    shoe = skeleton.shoes["LR".index(side)]
    sections = np.array([_section(shoe, kind, at) for at in _STATIONS])
    bands = (
        (slice(0, 4), Surface(kind.outsole, roughness=0.8)),
        (slice(3, 6), Surface(kind.side, roughness=0.5)),
        (slice(5, 11), Surface(kind.upper, roughness=kind.gloss)),
    )
    return [_piece(skeleton, side, sections, band, surface) for band, surface in bands]


def _section(shoe: ShoeShape, kind: Footwear, at: float) -> FloatArray:
    """A cross section (2, 11, 3), right half and left half from the middle of the sole to the top:
    across, along, up, metres."""
    right, left = (np.interp(at, shoe.stations, w) * kind.width for w in (shoe.right, shoe.left))
    end = np.clip(1.0 - at, 0.0, 0.3) / 0.3
    tip = np.sqrt(end) ** (0.4 + 0.6 * kind.point)
    rear = np.sqrt(np.clip(at / 0.05, 0.0, 1.0))
    right, left = (float(w * tip * rear) for w in (right, left))
    lifted = kind.spring * np.clip((at - 0.78) / 0.22, 0, 1) ** 2
    lifted += kind.bevel * np.clip((0.06 - at) / 0.06, 0, 1) ** 1.5
    sole = np.interp(at, (0.0, 0.35, 0.72, 1.0), (kind.heel, kind.heel, kind.fore, kind.fore))
    top = np.interp(at, shoe.stations, shoe.top)
    top = sole + top * np.interp(at, (0.0, 0.3, 0.42), (kind.collar, kind.collar, 1.0))
    top = max(float(top), float(sole + 0.012))
    along = at * shoe.length
    half = []
    for side_width, sign in ((right, 1.0), (left, -1.0)):
        # Both ends are closed: there a section has no width.
        flare = kind.flare * min(tip * rear, 1.0)
        wide = side_width + flare
        profile = (
            (0.0, lifted),
            (0.5 * wide, lifted),
            (0.97 * wide, lifted + 0.001),
            (wide, lifted + 0.35 * sole),
            (side_width + 0.4 * flare, max(lifted + 0.7 * sole, sole * 0.9)),
            (side_width, max(sole, lifted + 0.004)),
            (1.01 * side_width, sole + 0.15 * (top - sole)),
            (0.93 * side_width, sole + 0.5 * (top - sole)),
            (0.7 * side_width, sole + 0.82 * (top - sole)),
            (0.35 * side_width, sole + 0.97 * (top - sole)),
            (0.0, top),
        )
        half.append([(sign * a, along, z) for a, z in profile])
    return np.array(half)


def _piece(
    skeleton: Skeleton, side: str, sections: FloatArray, band: slice, surface: Surface
) -> Piece:
    """A band of a shoe, on both sides; which part of the half sections (n, 2, 11, 3) it is."""
    shoe = skeleton.shoes["LR".index(side)]
    halves = sections[:, :, band].swapaxes(0, 1)
    grid = grid_triangles(halves.shape[1], halves.shape[2], closed=False)
    triangles = np.concatenate([grid, grid[:, ::-1] + halves[0].size // 3])
    local = halves.reshape(-1, 3)
    model = skeleton.body.model
    weights = np.zeros((len(local), WEIGHTS_PER_VERTEX))
    bones = np.zeros((len(local), WEIGHTS_PER_VERTEX), dtype=np.int64)
    bones[:, 0], bones[:, 1] = model.bone(f"foot.{side}"), model.bone(f"toe3-1.{side}")
    weights[:, 1] = np.clip((local[:, 1] / shoe.length - BALL_FRACTION) / 0.06 + 0.5, 0, 1)
    weights[:, 0] = 1.0 - weights[:, 1]
    placed = shoe.heel + local @ turn_z(shoe.yaw).T
    return Piece(placed, triangles, weights, bones, surface)


def _colour(values: FloatArray) -> Colour:
    return float(values[0]), float(values[1]), float(values[2])
