"""Dressing a body: garments as offset shells of the skin, a skirt, and the colours of it all."""

import numpy as np

from tests.rendering.arrays import BoolArray, FloatArray, IntArray
from tests.rendering.body import (
    SPINE,
    Body,
)
from tests.rendering.figure import (
    EYE,
    HAIR,
    SHIRT,
    SHOE,
    SKIN,
    SOCK,
    TROUSERS,
    Figure,
    Outfit,
    Piece,
)
from tests.rendering.hair import pony_tail, scalp
from tests.rendering.light import linear
from tests.rendering.shading import HOOPS, PATCHES, PLAIN, STRANDS, STRIPES, vertex_normals
from tests.rendering.shoes import shoe_piece
from tests.rendering.skeleton import SOLE_THICKNESS_M, Skeleton
from tests.rendering.skin import all_corners, skin_piece
from tests.rendering.skirt import skirt_piece

PATTERNS = (PLAIN, PLAIN, HOOPS, STRIPES, PATCHES)


def dress(skeleton: Skeleton, outfit: Outfit) -> Figure:
    """The dressed figure of a person at rest."""
    body = skeleton.body
    limbs = _LimbPlaces(body, hem=0.04 if outfit.skirt else -0.02)
    covered_by_shirt = limbs.torso | (limbs.arm < outfit.sleeve)
    covered_by_trousers = limbs.hips | (limbs.leg < outfit.leg)
    covered_by_sock = np.isfinite(limbs.leg) & (limbs.leg > 1.0 - outfit.sock)
    covered_by_sock |= np.char.startswith(limbs.strongest, "foot")
    pieces = [skin_piece(body, outfit, covered_by_shirt, covered_by_trousers)]
    shirt_offset = 0.006 + outfit.looseness * (0.008 + 0.012 * limbs.lower_torso)
    shirt_offset = shirt_offset + outfit.looseness * 0.012 * np.clip(limbs.arm, 0, 1)
    trousers_offset = 0.010 + outfit.looseness * 0.022 * np.clip(limbs.leg / outfit.leg, 0, 1)
    sock_offset = np.full(len(body.vertices), 0.004)
    shells = (
        (covered_by_shirt, shirt_offset, outfit.shirt, SHIRT),
        (covered_by_trousers, trousers_offset, outfit.trousers, TROUSERS),
        (covered_by_sock, sock_offset, outfit.socks, SOCK),
        (*scalp(body, outfit), outfit.hair, HAIR),
    )
    normals = vertex_normals(body.vertices, body.model.triangles)
    pieces += [_shell(body, normals, *shell) for shell in shells]
    if outfit.skirt:
        pieces.append(skirt_piece(body, outfit))
    pieces += [shoe_piece(skeleton, side, outfit) for side in "LR"]
    if outfit.tail > 0:
        pieces.append(pony_tail(body, outfit))
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
    triangles = model.triangles[all_corners(covered, model.triangles)]
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
