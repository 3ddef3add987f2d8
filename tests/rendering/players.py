"""A drawn player: a dressed person with a racket, of either hand."""

from dataclasses import dataclass

import numpy as np

from tests.rendering.arrays import FloatArray
from tests.rendering.body import make_body
from tests.rendering.figure import Figure
from tests.rendering.garments import dress
from tests.rendering.kinematics import solve
from tests.rendering.light import linear
from tests.rendering.people import draw_outfit, draw_phenotype
from tests.rendering.posture import Posture
from tests.rendering.racket import racket_mesh
from tests.rendering.raster import Mesh
from tests.rendering.skeleton import Skeleton, make_skeleton, mirror_joints


@dataclass(frozen=True)
class Player:
    """A person with a racket; `hand` is "right" or "left"; colours are linear light."""

    figure: Figure
    hand: str
    racket_colours: FloatArray
    racket_scale: float

    @property
    def skeleton(self) -> Skeleton:
        """The person's skeleton."""
        return self.figure.skeleton


@dataclass(frozen=True)
class PosedPlayer:
    """A player in a posture: `joints` (17, 3) court frame, metres, and one mesh."""

    joints: FloatArray
    mesh: Mesh


def draw_player(rng: np.random.Generator, split: str, hand: str) -> Player:
    """A random person in random clothes with a racket in the given hand."""
    return draw_dressed(rng, make_skeleton(make_body(draw_phenotype(rng, split))), hand)


def draw_dressed(rng: np.random.Generator, skeleton: Skeleton, hand: str) -> Player:
    """A person with a given skeleton in random clothes with a racket in the given hand."""
    phenotype = skeleton.body.phenotype
    figure = dress(skeleton, draw_outfit(rng, phenotype.gender))
    colours = linear(rng.uniform(0.05, 0.95, (3, 3)))
    scale = float(np.clip(phenotype.stature_m / 1.6, 0.82, 1.0))
    return Player(figure, hand, colours, scale)


def pose_player(player: Player, posture: Posture) -> PosedPlayer:
    """The player in a right-hander's posture, mirrored in x for a left-hander."""
    posed = solve(player.skeleton, posture)
    racket = racket_mesh(posed.grip, posed.racket, player.racket_colours, player.racket_scale)
    mesh = _merged(player.figure.pose(posed), racket)
    if player.hand == "right":
        return PosedPlayer(posed.joints, mesh)
    return PosedPlayer(mirror_joints(posed.joints), _mirrored(mesh))


def _merged(first: Mesh, second: Mesh) -> Mesh:
    """Two meshes as one."""
    return Mesh(
        np.concatenate([first.vertices, second.vertices]),
        np.concatenate([first.triangles, second.triangles + len(first.vertices)]),
        np.concatenate([first.colours, second.colours]),
        np.concatenate([first.texture, second.texture]),
        np.concatenate([first.materials, second.materials + len(first.material_table)]),
        np.concatenate([first.material_table, second.material_table]),
    )


def _mirrored(mesh: Mesh) -> Mesh:
    """The mesh mirrored in x, triangles turned over so that they still face outwards."""
    return Mesh(
        mesh.vertices * np.array([-1.0, 1.0, 1.0]),
        np.ascontiguousarray(mesh.triangles[:, ::-1]),
        mesh.colours,
        mesh.texture,
        mesh.materials,
        mesh.material_table,
    )
