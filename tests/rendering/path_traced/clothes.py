"""Loose, folded clothes around a body at rest, and its bare skin.

A garment is the covered skin pushed outwards, more towards its hem, and thrown into folds.
"""

from dataclasses import dataclass

import numpy as np

from tests.rendering.arrays import BoolArray, FloatArray, IntArray
from tests.rendering.body import (
    REGION_BROW,
    REGION_EYE,
    REGION_LIPS,
    SPINE,
    WEIGHTS_PER_VERTEX,
    Body,
)
from tests.rendering.grids import grid_triangles
from tests.rendering.path_traced.models import Colour, Surface

_LIMBS = {
    "arm": ("upperarm01", "lowerarm01", "wrist"),
    "leg": ("upperleg01", "lowerleg01", "foot"),
}


@dataclass(frozen=True)
class Piece:
    """Part of a dressed person at rest: vertices (v, 3) metres, triangles (t, 3), skin weights and
    their bones (v, WEIGHTS_PER_VERTEX)."""

    vertices: FloatArray
    triangles: IntArray
    weights: FloatArray
    weight_bones: IntArray
    surface: Surface


@dataclass(frozen=True)
class Garment:
    """A garment; metres, and fractions of the limb that it covers.

    `limb` is "arm" (with the trunk), "leg" (with the hips) or "shin" (a sock, from below), `reach`
    how much of it is covered; `hem` how far the trunk's part hangs below the hip joints; `close`
    the distance from the skin where it is closest, `loose` how much more at the hem; `fold` height
    and `wave` width of folds.
    """

    limb: str
    reach: float
    hem: float
    close: float
    loose: float
    fold: float
    wave: float
    surface: Surface


@dataclass(frozen=True)
class Skirt:
    """A pleated skirt: `length` as a fraction of the thigh, `flare` metres, number of `pleats`."""

    length: float
    flare: float
    pleats: int
    surface: Surface


class BodyPlaces:
    """Where each skin vertex lies, (vertices,): along `arm` and `leg` from 0 at the limb's joint to
    1 at wrist or ankle (infinite elsewhere), on the `trunk` or not, height `above_hips`, metres."""

    def __init__(self, body: Body) -> None:
        names = np.array(body.model.bone_names)[body.model.weight_bones[:, 0]]
        self.names = names
        self.along = {limb: np.full(len(names), np.inf) for limb in _LIMBS}
        for limb, bones in _LIMBS.items():
            for side in "LR":
                joints = [body.head_of(f"{bone}.{side}") for bone in bones]
                for part, bone in enumerate(bones[:2]):
                    own = np.char.startswith(names, bone[:-2]) & np.char.endswith(names, side)
                    line = joints[part + 1] - joints[part]
                    place = (body.vertices[own] - joints[part]) @ line / (line @ line)
                    self.along[limb][own] = 0.5 * (part + place)
        self.trunk = np.isin(names, SPINE) | (names == "root") | np.char.startswith(names, "clav")
        self.above_hips = body.vertices[:, 2] - body.head_of("upperleg01.L")[2]
        self.neck = body.head_of("neck01")[2] - body.head_of("upperleg01.L")[2]
        self.in_shoe = np.char.startswith(names, "toe") | (
            np.char.startswith(names, "foot")
            & (body.vertices[:, 2] < 0.9 * body.head_of("foot.L")[2])
        )

    def covered(self, garment: Garment) -> BoolArray:
        """Which vertices a garment covers."""
        if garment.limb == "shin":
            low = np.isfinite(self.along["leg"]) & (self.along["leg"] > 1.0 - garment.reach)
            return low | np.char.startswith(self.names, "foot")
        along = self.along[garment.limb]
        if garment.limb == "leg":
            waist = 0.3 * self.neck
            return (along < garment.reach) | (self.trunk & (self.above_hips < waist))
        low = self.above_hips > -garment.hem
        throat = (self.names == "neck01") & (self.above_hips < self.neck)
        return (along < garment.reach) | ((self.trunk | throat | (self.along["leg"] < 0.5)) & low)

    def towards_hem(self, garment: Garment) -> FloatArray:
        """How near a garment's hem each vertex is, 0 to 1."""
        if garment.limb == "shin":
            return np.zeros(len(self.names))
        near = np.clip(self.along[garment.limb] / garment.reach, 0, 1)
        if garment.limb == "leg":
            return np.where(np.isfinite(self.along["leg"]), near, 0.1)
        down = np.clip(1.0 - (self.above_hips + garment.hem) / (self.neck + garment.hem), 0, 1)
        return np.where(np.isfinite(self.along["arm"]), near, down)


def garment_piece(
    rng: np.random.Generator, body: Body, places: BodyPlaces, garment: Garment
) -> Piece:
    """A garment on a body at rest."""
    model = body.model
    triangles = _all_corners(places.covered(garment), model.triangles)
    used, flat = np.unique(triangles, return_inverse=True)
    triangles = flat.reshape(-1, 3)
    skin, normals = body.vertices[used], _normals(body.vertices, model.triangles)[used]
    hem = places.towards_hem(garment)[used]
    folds = _folds(rng, skin, garment.wave) * garment.fold * (0.35 + 0.65 * hem)
    offset = garment.close + garment.loose * hem**1.3 + folds
    offset = np.maximum(offset, 0.5 * garment.close)
    cloth = skin + offset[:, None] * normals
    for _ in range(2):
        cloth = 0.5 * cloth + 0.5 * _neighbour_means(cloth, triangles)
    sunk = np.minimum(np.sum((cloth - skin) * normals, axis=1) - 0.6 * garment.close, 0.0)
    return Piece(
        cloth - sunk[:, None] * normals,
        triangles,
        model.weights[used],
        model.weight_bones[used],
        garment.surface,
    )


def skirt_piece(body: Body, skirt: Skirt) -> Piece:
    """A pleated tube from the waist down, carried by pelvis and thighs."""
    hip, knee = body.head_of("upperleg01.L"), body.head_of("lowerleg01.L")
    top, bottom = hip[2] + 0.06 * body.vertices[:, 2].max(), hip[2] - skirt.length * (hip - knee)[2]
    rows, columns = 10, 6 * skirt.pleats
    down = np.linspace(0.0, 1.0, rows)
    angles = np.linspace(0.0, 2 * np.pi, columns, endpoint=False)
    names = np.array(body.model.bone_names)[body.model.weight_bones[:, 0]]
    limb = np.isin(names, SPINE) | (names == "root") | np.char.startswith(names, "upperleg")
    skin = body.vertices[limb]
    heights = top + (bottom - top) * down
    levels = [skin[np.abs(skin[:, 2] - max(z, hip[2] - 0.1)) < 0.04] for z in heights]
    half_x = np.maximum.accumulate([np.abs(level[:, 0]).max() for level in levels])
    half_y = np.maximum.accumulate([0.5 * np.ptp(level[:, 1]) for level in levels])
    middle_y = np.array([0.5 * (level[:, 1].max() + level[:, 1].min()) for level in levels])
    out = 0.01 + skirt.flare * down
    pleat = 0.5 * skirt.flare * down[:, None] * np.cos(skirt.pleats * angles)[None]
    vertices = np.stack(
        [
            ((half_x + out)[:, None] + pleat) * np.cos(angles),
            middle_y[:, None] + ((half_y + out)[:, None] + pleat) * np.sin(angles),
            np.repeat(heights[:, None], columns, axis=1),
        ],
        axis=-1,
    ).reshape(-1, 3)
    weights = np.zeros((len(vertices), WEIGHTS_PER_VERTEX))
    bones = np.zeros((len(vertices), WEIGHTS_PER_VERTEX), dtype=np.int64)
    bones[:, :3] = [body.model.bone(f"{n}") for n in ("root", "upperleg01.L", "upperleg01.R")]
    thigh = np.repeat(0.85 * np.clip(1.4 * down - 0.25, 0, 1), columns)
    right = np.clip(0.5 + vertices[:, 0] / (1.4 * half_x[-1]), 0, 1)
    weights[:, :3] = np.stack([1.0 - thigh, thigh * (1.0 - right), thigh * right], axis=1)
    return Piece(
        vertices, grid_triangles(rows, columns, closed=True), weights, bones, skirt.surface
    )


def skin_pieces(body: Body, places: BodyPlaces, hidden: BoolArray, skin: Colour) -> list[Piece]:
    """The skin that may be seen; eyes, brows and lips in colours of their own."""
    model = body.model
    shades = {
        REGION_EYE: Surface((0.03, 0.02, 0.015), roughness=0.15),
        REGION_BROW: Surface(tuple(0.25 * c for c in skin), roughness=0.8),
        REGION_LIPS: Surface((0.8 * skin[0], 0.5 * skin[1], 0.55 * skin[2]), roughness=0.4),
        None: Surface(skin, roughness=0.5, flesh=0.15),
    }
    shown = ~(hidden[model.triangles].all(axis=1) | places.in_shoe[model.triangles].all(axis=1))
    own = model.region[model.triangles]
    taken = np.zeros(len(own), dtype=bool)
    pieces = []
    for region, surface in shades.items():
        chosen = shown & ~taken if region is None else shown & (own == region).all(axis=1)
        taken |= chosen
        pieces.append(
            Piece(
                body.vertices, model.triangles[chosen], model.weights, model.weight_bones, surface
            )
        )
    return pieces


def hair_piece(body: Body, colour: Colour, thickness: float, low: float) -> Piece:
    """A cap of hair, or a hat: the head's upper and back part pushed outwards.

    Parameters
    ----------
    thickness : metres
    low : how far down the back of the head it goes, as a share of the head's height
    """
    model = body.model
    size = float(body.vertices[:, 2].max() - body.head_of("head")[2])
    _, y, z = ((body.vertices - body.head_of("head")) / size).T
    names = np.array(model.bone_names)[model.weight_bones[:, 0]]
    on = np.isin(names, ("head", "neck03")) & (z > np.clip(0.55 + 1.9 * y - 0.55 * low, -low, 0.62))
    triangles = _all_corners(on, model.triangles)
    used, flat = np.unique(triangles, return_inverse=True)
    normals = _normals(body.vertices, model.triangles)[used]
    surface = Surface(colour, roughness=0.45)
    return Piece(
        body.vertices[used] + thickness * normals,
        flat.reshape(-1, 3),
        model.weights[used],
        model.weight_bones[used],
        surface,
    )


def _folds(rng: np.random.Generator, points: FloatArray, wave: float) -> FloatArray:
    """Folds of cloth at points (n, 3): some plane waves of random directions, -1 to 1."""
    total = np.zeros(len(points))
    for _ in range(5):
        direction = rng.normal(size=3) * (1.0, 1.0, 0.6)
        turned = points @ (direction / np.linalg.norm(direction))
        total += np.sin(2 * np.pi * turned / (wave * rng.uniform(0.6, 1.6)) + rng.uniform(0, 6.3))
    return np.tanh(total / 2.0)


def _all_corners(chosen: BoolArray, triangles: IntArray) -> IntArray:
    """The triangles whose corners are all among the chosen vertices."""
    return triangles[chosen[triangles].all(axis=1)]


def _normals(vertices: FloatArray, triangles: IntArray) -> FloatArray:
    """Unit normals (v, 3) of vertices."""
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    faces = np.cross(b - a, c - a)
    total = np.zeros_like(vertices)
    for k in range(3):
        np.add.at(total, triangles[:, k], faces)
    return total / np.maximum(np.linalg.norm(total, axis=1, keepdims=True), 1e-12)


def _neighbour_means(vertices: FloatArray, triangles: IntArray) -> FloatArray:
    """Mean place (v, 3) of each vertex's neighbours."""
    edges = np.concatenate([triangles[:, [i, j]] for i in range(3) for j in range(3) if i != j])
    total, count = np.zeros_like(vertices), np.zeros(len(vertices))
    np.add.at(total, edges[:, 0], vertices[edges[:, 1]])
    np.add.at(count, edges[:, 0], 1.0)
    return total / np.maximum(count, 1.0)[:, None]
