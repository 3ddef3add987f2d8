"""Dressing a body: garments as offset shells of the skin, shoes, hair, and the colours of it all.

`dress` makes one mesh at rest with skin weights; posing it is linear blend skinning.
"""

from dataclasses import dataclass

import numba
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
from tests.rendering.light import linear
from tests.rendering.raster import Mesh
from tests.rendering.rotations import turn_z
from tests.rendering.shading import HOOPS, PATCHES, PLAIN, STRANDS, STRIPES, vertex_normals
from tests.rendering.skeleton import (
    BALL_FRACTION,
    SOLE_THICKNESS_M,
    PosedSkeleton,
    ShoeShape,
    Skeleton,
)

SKIRT_COLUMNS, SKIRT_ROWS = 40, 9
SKIN, SHIRT, TROUSERS, SOCK, SHOE, HAIR, EYE = range(7)


@dataclass(frozen=True)
class Outfit:
    """What a person wears and looks like; colours are sRGB in 0..1, lengths as fractions.

    `sleeve` is the fraction of the whole arm that is covered, `leg` that of the whole leg, `skirt`
    whether the legs share one tube. `hair_length` is 0 for cropped hair, 1 for hair to the nape;
    `tail` is the length of a pony tail in metres, 0 for none.
    """

    skin: tuple[float, float, float]
    hair: tuple[float, float, float]
    shirt: tuple[float, float, float]
    shirt_second: tuple[float, float, float]
    shirt_pattern: int
    trousers: tuple[float, float, float]
    trousers_second: tuple[float, float, float]
    trousers_pattern: int
    socks: tuple[float, float, float]
    shoes: tuple[float, float, float]
    soles: tuple[float, float, float]
    sleeve: float
    leg: float
    skirt: bool
    looseness: float
    sock: float
    hair_length: float
    tail: float


@dataclass(frozen=True)
class Piece:
    """Part of a dressed figure at rest; as `Mesh`, with skin weights and their bones."""

    vertices: FloatArray
    triangles: IntArray
    colours: FloatArray
    weights: FloatArray
    weight_bones: IntArray
    material: int


@dataclass(frozen=True)
class Figure:
    """A dressed person at rest: all pieces joined into one mesh with skin weights."""

    skeleton: Skeleton
    vertices: FloatArray
    triangles: IntArray
    colours: FloatArray
    weights: FloatArray
    weight_bones: IntArray
    materials: IntArray
    material_table: FloatArray

    def pose(self, posed: PosedSkeleton) -> Mesh:
        """The mesh in a posture (right-handed)."""
        vertices = _skin(self.vertices, self.weights, self.weight_bones, posed.transforms)
        return Mesh(
            vertices,
            self.triangles,
            self.colours,
            self.vertices,
            self.materials,
            self.material_table,
        )


@numba.njit(cache=True, fastmath=True)
def _skin(vertices, weights, bones, transforms):
    """Linear blend skinning: vertices (v, 3) under bone transforms (bones, 3, 4)."""
    result = np.zeros(vertices.shape)
    for v in range(len(vertices)):
        x, y, z = vertices[v]
        for k in range(weights.shape[1]):
            w = weights[v, k]
            if w == 0.0:
                continue
            m = transforms[bones[v, k]]
            for i in range(3):
                result[v, i] += w * (m[i, 0] * x + m[i, 1] * y + m[i, 2] * z + m[i, 3])
    return result


def dress(skeleton: Skeleton, outfit: Outfit) -> Figure:
    """The dressed figure of a person at rest."""
    body = skeleton.body
    limbs = _LimbPlaces(body, hem=0.04 if outfit.skirt else -0.02)
    covered_by_shirt = limbs.torso | (limbs.arm < outfit.sleeve)
    covered_by_trousers = limbs.hips | (limbs.leg < outfit.leg)
    covered_by_sock = np.isfinite(limbs.leg) & (limbs.leg > 1.0 - outfit.sock)
    covered_by_sock |= np.char.startswith(limbs.strongest, "foot")
    pieces = [_skin_piece(body, outfit, covered_by_shirt, covered_by_trousers)]
    shirt_offset = 0.006 + outfit.looseness * (0.008 + 0.012 * limbs.lower_torso)
    shirt_offset = shirt_offset + outfit.looseness * 0.012 * np.clip(limbs.arm, 0, 1)
    trousers_offset = 0.010 + outfit.looseness * 0.022 * np.clip(limbs.leg / outfit.leg, 0, 1)
    sock_offset = np.full(len(body.vertices), 0.004)
    shells = (
        (covered_by_shirt, shirt_offset, outfit.shirt, SHIRT),
        (covered_by_trousers, trousers_offset, outfit.trousers, TROUSERS),
        (covered_by_sock, sock_offset, outfit.socks, SOCK),
        (*_scalp(body, outfit), outfit.hair, HAIR),
    )
    normals = vertex_normals(body.vertices, body.model.triangles)
    pieces += [_shell(body, normals, *shell) for shell in shells]
    if outfit.skirt:
        pieces.append(_skirt(body, outfit))
    pieces += [_shoe(skeleton, side, outfit) for side in "LR"]
    if outfit.tail > 0:
        pieces.append(_pony_tail(body, outfit))
    return _join(skeleton, pieces, _material_table(outfit))


class _LimbPlaces:
    """Where each skin vertex lies on the body, arrays (vertices,).

    `arm` and `leg` run from 0 at the joint of the limb to 1 at wrist or ankle (inf elsewhere).
    `hem` is the shirt's hem above the hip joints, as a fraction of the stature.
    """

    def __init__(self, body: Body, hem: float) -> None:
        model = body.model
        names = np.array(model.bone_names)[model.weight_bones[:, 0]]
        self.strongest = names
        self.arm = np.full(len(names), np.inf)
        self.leg = np.full(len(names), np.inf)
        vertices = body.vertices
        for side in "LR":
            arm = ("upperarm01", "lowerarm01", "wrist")
            leg = ("upperleg01", "lowerleg01", "foot")
            for place, bones in ((self.arm, arm), (self.leg, leg)):
                joints = np.array([body.head_of(f"{bone}.{side}") for bone in bones])
                stems = [bone[:-2] for bone in bones[:2]]
                for part in range(2):
                    on_part = np.isin(names, [f"{stems[part]}0{k}.{side}" for k in (1, 2)])
                    bone = joints[part + 1] - joints[part]
                    along = (vertices[on_part] - joints[part]) @ bone / (bone @ bone)
                    place[on_part] = 0.5 * (part + along)
        hip_height = body.head_of("upperleg01.L")[2]
        neck_height = body.head_of("neck01")[2]
        trunk = np.isin(names, SPINE) | np.char.startswith(names, "clavicle") | (names == "root")
        neck = (names == "neck01") & (vertices[:, 2] < neck_height - 0.005)
        lowest = hip_height + hem * body.phenotype.stature_m
        self.torso = (trunk | neck | (self.leg < 0.25)) & (vertices[:, 2] > lowest)
        waist = hip_height + 0.35 * (body.head_of("spine03")[2] - hip_height)
        self.hips = trunk & (vertices[:, 2] < waist) | (self.leg < 0.02)
        self.lower_torso = np.clip((neck_height - vertices[:, 2]) / (neck_height - waist), 0, 1)


def _skin_piece(body: Body, outfit: Outfit, shirt: BoolArray, trousers: BoolArray) -> Piece:
    """The skin that can be seen, with lips, brows and eyes coloured."""
    model = body.model
    inside = _deep_inside(model.triangles, shirt | trousers, len(body.vertices))
    names = np.array(model.bone_names)[model.weight_bones[:, 0]]
    foot = np.char.startswith(names, "toe") | (
        np.char.startswith(names, "foot") & (body.vertices[:, 2] < 0.9 * body.head_of("foot.L")[2])
    )
    hidden = _all_corners(inside, model.triangles) | _all_corners(foot, model.triangles)
    return Piece(
        body.vertices,
        model.triangles[~hidden],
        _face_colours(body, outfit),
        model.weights,
        model.weight_bones,
        SKIN,
    )


def _all_corners(chosen: BoolArray, triangles: IntArray) -> BoolArray:
    """Which triangles (n, 3) have all their corners among the chosen vertices."""
    return chosen[triangles[:, 0]] & chosen[triangles[:, 1]] & chosen[triangles[:, 2]]


def _deep_inside(triangles: IntArray, covered: BoolArray, count: int) -> BoolArray:
    """Vertices at least two rings of triangles away from the edge of a garment."""
    inside = covered.copy()
    for _ in range(2):
        edge = triangles[~_all_corners(inside, triangles)]
        touched = np.zeros(count, dtype=bool)
        touched[edge] = True
        inside &= ~touched
    return inside


def _face_colours(body: Body, outfit: Outfit) -> FloatArray:
    """Linear colours (vertices, 3) of the skin, with lips, brows, eyes and flushed cheeks."""
    model, vertices = body.model, body.vertices
    skin, hair = linear(outfit.skin), linear(outfit.hair)
    colours = np.repeat(skin[None], len(vertices), axis=0)
    scale = _head_size(body)
    colours[model.region == REGION_LIPS] = skin * np.array([0.85, 0.45, 0.5])
    colours[model.region == REGION_BROW] = 0.35 * skin + 0.5 * hair
    eyes = model.region == REGION_EYE
    colours[eyes] = (0.75, 0.75, 0.75)
    for sign in (-1.0, 1.0):
        side = eyes & (vertices[:, 0] * sign > 0)
        centre = vertices[side].mean(axis=0)
        across = np.hypot(vertices[:, 0] - centre[0], vertices[:, 2] - centre[2])
        front = vertices[:, 1] > centre[1]
        colours[side & front & (across < 0.0065 * scale)] = (0.02, 0.015, 0.01)
        height = vertices[:, 2] - centre[2]
        aside = np.abs(vertices[:, 0] - centre[0])
        face = front & (model.region != REGION_EYE)
        brow = face & (np.abs(height - 0.024 * scale) < 0.006 * scale) & (aside < 0.024 * scale)
        colours[brow] = 0.25 * skin + 0.5 * hair
        lid = face & (np.abs(height) < 0.012 * scale) & (aside < 0.02 * scale)
        colours[lid] *= 0.6
    return colours


def _shell(
    body: Body,
    normals: FloatArray,
    covered: BoolArray,
    offset: FloatArray,
    colour: tuple[float, float, float],
    material: int,
) -> Piece:
    """A garment: the covered skin, pushed outwards by `offset` (vertices,) metres and smoothed."""
    model = body.model
    triangles = model.triangles[_all_corners(covered, model.triangles)]
    used, flat = np.unique(triangles, return_inverse=True)
    triangles = flat.reshape(-1, 3)
    normals = normals[used]
    skin = body.vertices[used]
    cloth = _smoothed(skin + offset[used, None] * normals, triangles)
    sunk = np.minimum(np.sum((cloth - skin) * normals, axis=1) - 0.6 * offset[used], 0.0)
    cloth = cloth - sunk[:, None] * normals
    colours = np.repeat(linear(colour)[None], len(used), axis=0)
    return Piece(cloth, triangles, colours, model.weights[used], model.weight_bones[used], material)


def _smoothed(vertices: FloatArray, triangles: IntArray, rounds: int = 3) -> FloatArray:
    """Vertices (v, 3) moved half-way to the mean of their neighbours, a few times."""
    edges = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    edges = np.concatenate([edges, edges[:, ::-1]])
    counts = np.bincount(edges[:, 0], minlength=len(vertices))
    for _ in range(rounds):
        sums = np.stack(
            [
                np.bincount(edges[:, 0], vertices[edges[:, 1], axis], minlength=len(vertices))
                for axis in range(3)
            ],
            axis=1,
        )
        vertices = 0.5 * vertices + 0.5 * sums / counts[:, None]
    return vertices


def _skirt(body: Body, outfit: Outfit) -> Piece:
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
        _grid_triangles(SKIRT_ROWS, SKIRT_COLUMNS, closed=True),
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


def _grid_triangles(rows: int, columns: int, closed: bool) -> IntArray:
    """Triangles of a grid of vertices; `closed` joins the last column to the first."""
    index = np.arange(rows * columns).reshape(rows, columns)
    following = np.roll(index, -1, axis=1)
    last = columns if closed else columns - 1
    a, b = index[:-1, :last].ravel(), following[:-1, :last].ravel()
    c, d = index[1:, :last].ravel(), following[1:, :last].ravel()
    return np.concatenate([np.stack([a, c, b], 1), np.stack([b, c, d], 1)])


def _shoe(skeleton: Skeleton, side: str, outfit: Outfit) -> Piece:
    """A shoe: cross sections along the foot, sole in its own colour, bending at the ball."""
    shoe = skeleton.shoes["LR".index(side)]
    sections = np.array([_shoe_section(shoe, k) for k in range(len(shoe.stations))])
    count = sections.shape[1]
    ends = np.stack([sections[0].mean(axis=0), sections[-1].mean(axis=0)])
    local = np.concatenate([sections.reshape(-1, 3), ends])
    vertices = shoe.heel + local @ turn_z(shoe.yaw).T
    grid = _grid_triangles(len(sections), count, closed=True)
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


def _scalp(body: Body, outfit: Outfit) -> tuple[BoolArray, FloatArray]:
    """Which vertices carry hair, and how thick it is there, metres; both (vertices,)."""
    model, size = body.model, _head_size(body)
    _, y, z = ((body.vertices - body.head_of("head")) / size).T
    names = np.array(model.bone_names)[model.weight_bones[:, 0]]
    hairline = 0.02 + 0.06 * (1.0 - outfit.hair_length) + 0.55 * (y + 0.02)
    scalp = np.isin(names, ("head", "neck03")) & (z > np.maximum(hairline, -0.06))
    scalp &= ~((y > 0.075) & (z < 0.085))
    thickness = 0.006 + 0.012 * outfit.hair_length + 0.008 * np.clip(z / 0.14, 0, 1)
    return scalp, size * thickness


def _head_size(body: Body) -> float:
    """Size of the head against the model's template."""
    return float((body.vertices[:, 2].max() - body.head_of("head")[2]) / 0.145)


def _pony_tail(body: Body, outfit: Outfit) -> Piece:
    """A tapered tube that hangs from the back of the head."""
    size = _head_size(body)
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
    triangles = _grid_triangles(len(down), len(angles), closed=True)
    return Piece(vertices, triangles, colours, weights, bones, HAIR)


def _join(skeleton: Skeleton, pieces: list[Piece], table: FloatArray) -> Figure:
    """All pieces as one figure, body raised by the soles of the shoes."""
    starts = np.cumsum([0] + [len(piece.vertices) for piece in pieces[:-1]])
    raised = [
        piece.vertices + (0.0, 0.0, 0.0 if piece.material == SHOE else SOLE_THICKNESS_M)
        for piece in pieces
    ]
    return Figure(
        skeleton,
        np.concatenate(raised),
        np.concatenate([p.triangles + s for p, s in zip(pieces, starts, strict=True)]),
        np.concatenate([piece.colours for piece in pieces]),
        np.concatenate([piece.weights for piece in pieces]),
        np.concatenate([piece.weight_bones for piece in pieces]),
        np.concatenate([np.full(len(p.triangles), p.material) for p in pieces]),
        table,
    )


def _material_table(outfit: Outfit) -> FloatArray:
    """Rows as in `Mesh.material_table`, in the order of the material numbers."""
    black = (0.0, 0.0, 0.0)
    shirt, trousers = linear(outfit.shirt_second), linear(outfit.trousers_second)
    hair = 0.45 * linear(outfit.hair)
    rows = {
        SKIN: (PLAIN, *black, 1.0, 0.06, 0.035, 0.1),
        SHIRT: (outfit.shirt_pattern, *shirt, 0.09, 0.55, 0.005, 0.35),
        TROUSERS: (outfit.trousers_pattern, *trousers, 0.12, 0.5, 0.008, 0.3),
        SOCK: (PLAIN, *black, 1.0, 0.2, 0.0, 0.1),
        SHOE: (PLAIN, *black, 1.0, 0.15, 0.03, 0.1),
        HAIR: (STRANDS, *hair, 0.008, 0.5, 0.03, 0.3),
        EYE: (PLAIN, *black, 1.0, 0.0, 0.1, 0.0),
    }
    return np.array([rows[material] for material in sorted(rows)], dtype=np.float64)


PATTERNS = (PLAIN, PLAIN, HOOPS, STRIPES, PATCHES)
