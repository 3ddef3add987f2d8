"""A dressed person as one mesh with skin weights; posing it is linear blend skinning."""

from dataclasses import dataclass

import numba
import numpy as np

from tests.rendering.arrays import FloatArray, IntArray
from tests.rendering.raster import Mesh
from tests.rendering.skeleton import PosedSkeleton, Skeleton

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
