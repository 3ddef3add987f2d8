"""Random people of the second way of rendering: bodies, shoes, clothes, colours."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.rendering.arrays import FloatArray
from tests.rendering.body import Phenotype, make_body
from tests.rendering.kinematics import solve
from tests.rendering.path_traced.clothes import (
    BodyPlaces,
    Garment,
    Piece,
    Skirt,
    garment_piece,
    hair_piece,
    skin_pieces,
    skirt_piece,
)
from tests.rendering.path_traced.footwear import draw_footwear, shod, shoe_pieces
from tests.rendering.path_traced.models import (
    CHECKS,
    CLOUDS,
    PLAIN,
    STRIPES,
    Colour,
    Model,
    Surface,
)
from tests.rendering.posture import Posture
from tests.rendering.racket import racket_mesh
from tests.rendering.skeleton import PosedSkeleton, Skeleton, make_skeleton, mirror_joints

SKIN_TONES: tuple[Colour, ...] = (
    (0.75, 0.50, 0.38),
    (0.62, 0.38, 0.26),
    (0.42, 0.24, 0.15),
    (0.24, 0.12, 0.07),
    (0.10, 0.05, 0.03),
)
HAIR_COLOURS: tuple[Colour, ...] = (
    (0.01, 0.01, 0.01),
    (0.05, 0.025, 0.012),
    (0.25, 0.14, 0.05),
    (0.45, 0.44, 0.42),
    (0.30, 0.06, 0.02),
)


@dataclass(frozen=True)
class Person:
    """A dressed person at rest with a racket; `hand` is "right" or "left"."""

    skeleton: Skeleton
    pieces: tuple[Piece, ...]
    hand: str
    racket: tuple[Colour, Colour, Colour]
    racket_scale: float


def draw_person(rng: np.random.Generator, hand: str) -> Person:
    """A random person in random shoes and clothes."""
    body = make_body(_draw_phenotype(rng))
    kind = draw_footwear(rng)
    skeleton = shod(make_skeleton(body), kind)
    places = BodyPlaces(body)
    skin = _blend(rng, SKIN_TONES)
    lower, upper = _draw_lower(rng), _draw_upper(rng)
    height = float(rng.uniform(0.05, 0.35))
    sock = Garment("shin", height, 0.0, 0.004, 0.0, 0.001, 0.03, _cloth(rng, plain=True))
    pieces = skin_pieces(body, places, _hidden(places, (lower, upper)), skin)
    pieces += [garment_piece(rng, body, places, part) for part in (lower, upper, sock)]
    if body.phenotype.gender > 0.5 and lower.reach < 0.5 and rng.uniform() < 0.5:
        skirt = Skirt(
            float(rng.uniform(0.45, 0.8)),
            float(rng.uniform(0.03, 0.12)),
            int(rng.integers(6, 22)),
            _cloth(rng),
        )
        pieces.append(skirt_piece(body, skirt))
    pieces.append(
        hair_piece(
            body,
            _blend(rng, HAIR_COLOURS) if rng.uniform() < 0.85 else _cloth(rng).colour,
            float(rng.uniform(0.006, 0.03)),
            float(rng.uniform(0.1, 0.9)),
        )
    )
    shoes = [piece for side in "LR" for piece in shoe_pieces(skeleton, side, kind)]
    raised = np.array([0.0, 0.0, skeleton.head("root")[2] - body.head_of("root")[2]])
    worn = tuple(_moved(piece, raised) for piece in pieces) + tuple(shoes)
    colours = tuple(_triple(rng.uniform(0.02, 0.8, 3)) for _ in range(3))
    scale = float(np.clip(body.phenotype.stature_m / 1.6, 0.82, 1.0))
    return Person(skeleton, worn, hand, (colours[0], colours[1], colours[2]), scale)


def person_joints(person: Person, postures: Sequence[Posture]) -> FloatArray:
    """Joints (moments, 17, 3) of a person in postures, mirrored for a left-hander; court frame."""
    joints = np.stack([solve(person.skeleton, posture).joints for posture in postures])
    return joints if person.hand == "right" else mirror_joints(joints)


def person_models(person: Person, postures: Sequence[Posture]) -> list[Model]:
    """Meshes of a person in postures, mirrored for a left-hander."""
    posed = [solve(person.skeleton, posture) for posture in postures]
    models = [
        Model(
            np.stack([_skinned(piece, one) for one in posed]),
            piece.triangles,
            piece.surface,
        )
        for piece in person.pieces
    ]
    models += _racket_models(person, posed)
    return models if person.hand == "right" else [model.mirrored() for model in models]


def _skinned(piece: Piece, posed: PosedSkeleton) -> FloatArray:
    """Linear blend skinning: vertices (v, 3) in a posture."""
    moved = np.zeros_like(piece.vertices)
    points = np.concatenate([piece.vertices, np.ones((len(piece.vertices), 1))], axis=1)
    for k in range(piece.weights.shape[1]):
        turned = np.einsum("vij,vj->vi", posed.transforms[piece.weight_bones[:, k]], points)
        moved += piece.weights[:, k, None] * turned
    return moved


def _racket_models(person: Person, posed: Sequence[PosedSkeleton]) -> list[Model]:
    """Handle, frame and strings of the racket."""
    meshes = [
        racket_mesh(one.grip, one.racket, np.array(person.racket), person.racket_scale)
        for one in posed
    ]
    vertices = np.stack([mesh.vertices for mesh in meshes])
    surfaces = [Surface(colour, roughness=0.3) for colour in person.racket]
    surfaces[2] = Surface(person.racket[2], through=0.75)
    return [
        Model(vertices, meshes[0].triangles[meshes[0].materials == part], surface)
        for part, surface in enumerate(surfaces)
    ]


def _draw_phenotype(rng: np.random.Generator) -> Phenotype:
    """A body: as often a child as an adult, from slight to heavy."""
    adult = rng.uniform() < 0.6
    girl = rng.uniform() < 0.5
    years = rng.uniform(18, 60) if adult else rng.uniform(9, 17)
    tall = np.interp(years, (9, 13, 17, 60), (1.34, 1.57, 1.70, 1.70)) + (-0.05 if girl else 0.04)
    face = rng.dirichlet((1.0, 1.0, 1.0))
    return Phenotype(
        gender=1.0 if girl else 0.0,
        age=float(np.interp(years, (9, 13, 18, 30, 60), (0.28, 0.42, 0.6, 0.68, 0.82))),
        muscle=float(rng.uniform(0.1, 0.95)),
        weight=float(rng.uniform(0.1, 0.9)),
        height=float(rng.uniform(0.1, 0.9)),
        proportions=float(rng.uniform(0.1, 0.95)),
        cupsize=float(rng.uniform(0.1, 0.9)),
        face=(float(face[0]), float(face[1]), float(face[2])),
        stature_m=float(tall * rng.uniform(0.9, 1.1)),
    )


def _draw_lower(rng: np.random.Generator) -> Garment:
    """Wide shorts, narrow shorts, track suit trousers or tights."""
    reach, close, loose, fold = (
        (rng.uniform(0.32, 0.5), 0.012, rng.uniform(0.03, 0.07), rng.uniform(0.004, 0.014)),
        (rng.uniform(0.2, 0.42), 0.008, rng.uniform(0.005, 0.025), rng.uniform(0.001, 0.006)),
        (rng.uniform(0.96, 1.0), 0.014, rng.uniform(0.015, 0.04), rng.uniform(0.006, 0.016)),
        (rng.uniform(0.6, 0.98), 0.003, 0.0, 0.0),
    )[int(rng.choice(4, p=(0.4, 0.25, 0.22, 0.13)))]
    wave = float(rng.uniform(0.05, 0.14))
    return Garment("leg", float(reach), 0.0, close, float(loose), float(fold), wave, _cloth(rng))


def _draw_upper(rng: np.random.Generator) -> Garment:
    """A wide shirt that may hang over the hips, a close one, or a jacket."""
    reach, close, loose, fold = (
        (rng.uniform(0.25, 0.5), 0.012, rng.uniform(0.02, 0.06), rng.uniform(0.004, 0.016)),
        (rng.uniform(0.05, 0.4), 0.006, rng.uniform(0.004, 0.02), rng.uniform(0.001, 0.005)),
        (rng.uniform(0.92, 1.0), 0.014, rng.uniform(0.015, 0.035), rng.uniform(0.006, 0.016)),
    )[int(rng.choice(3, p=(0.5, 0.3, 0.2)))]
    hem, wave = float(rng.uniform(-0.06, 0.14)), float(rng.uniform(0.05, 0.16))
    return Garment("arm", float(reach), hem, close, float(loose), float(fold), wave, _cloth(rng))


def _hidden(places: BodyPlaces, garments: Sequence[Garment]) -> np.ndarray:
    """Which skin lies deep under garments, so that it need not be there."""
    hidden = np.zeros(len(places.names), dtype=bool)
    for garment in garments:
        edge = 0.9 * garment.reach
        inside = places.covered(garment) & ~(
            np.isfinite(places.along[garment.limb]) & (places.along[garment.limb] > edge)
        )
        if garment.limb == "arm":
            inside &= (places.above_hips > 0.05 - garment.hem) & (
                places.above_hips < places.neck - 0.06
            )
        else:
            inside &= places.above_hips < 0.2 * places.neck
        hidden |= inside
    return hidden


def _moved(piece: Piece, shift: FloatArray) -> Piece:
    return Piece(
        piece.vertices + shift, piece.triangles, piece.weights, piece.weight_bones, piece.surface
    )


def _cloth(rng: np.random.Generator, plain: bool = False) -> Surface:
    """Cloth: dark, bright or pale, plain or with a large or small pattern."""
    colours = [rng.uniform(0.0, 1.0, 3) ** rng.uniform(0.8, 3.5) * 0.85 + 0.01 for _ in range(2)]
    pattern = PLAIN if plain else str(rng.choice((PLAIN, PLAIN, STRIPES, CHECKS, CLOUDS)))
    period = float(rng.choice((0.02, 0.06, 0.2)) * rng.uniform(0.7, 1.4))
    first, second = (_triple(colour) for colour in colours)
    return Surface(first, second, pattern, period, float(rng.uniform(0.35, 1.0)))


def _blend(rng: np.random.Generator, colours: Sequence[Colour]) -> Colour:
    """A mixture of two neighbouring colours of a list."""
    place = rng.uniform(0, len(colours) - 1)
    low = min(int(place), len(colours) - 2)
    share = place - low
    return _triple((1 - share) * np.array(colours[low]) + share * np.array(colours[low + 1]))


def _triple(values: FloatArray) -> Colour:
    return float(values[0]), float(values[1]), float(values[2])
