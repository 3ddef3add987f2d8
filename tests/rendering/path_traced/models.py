"""Meshes of a scene, and what their surfaces look like."""

from dataclasses import dataclass, replace

import numpy as np

from tests.rendering.arrays import FloatArray, IntArray

Colour = tuple[float, float, float]

PLAIN, STRIPES, CHECKS, CLOUDS, GRAIN = "plain", "stripes", "checks", "clouds", "grain"


@dataclass(frozen=True)
class Surface:
    """How a surface takes light; colours are linear, sizes metres.

    `pattern` mixes `colour` with `second`, repeating every `period`; `flesh` is the share of light
    that skin scatters below its surface, `through` the share that passes (a net).
    """

    colour: Colour
    second: Colour = (0.0, 0.0, 0.0)
    pattern: str = PLAIN
    period: float = 0.1
    roughness: float = 0.6
    flesh: float = 0.0
    through: float = 0.0


@dataclass(frozen=True)
class Model:
    """A mesh in each of a scene's moments.

    `vertices` (moments or 1, v, 3) metres, court frame; `triangles` (t, 3).
    """

    vertices: FloatArray
    triangles: IntArray
    surface: Surface
    smooth: bool = True

    def mirrored(self) -> "Model":
        """The mesh mirrored in x, its triangles still facing outwards."""
        return replace(
            self,
            vertices=self.vertices * np.array([-1.0, 1.0, 1.0]),
            triangles=np.ascontiguousarray(self.triangles[:, ::-1]),
        )


def box(low: tuple[float, ...], high: tuple[float, ...], surface: Surface) -> Model:
    """A box between two corners (3,), metres."""
    corners = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], float)
    vertices = np.array(low) + corners * (np.array(high) - np.array(low))
    quads = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    triangles = [t for a, b, c, d in quads for t in ((a, b, c), (a, c, d))]
    return Model(vertices[None], np.array(triangles), surface, smooth=False)


def plane(low: tuple[float, float], high: tuple[float, float], z: float, surface: Surface) -> Model:
    """A level rectangle at a height, metres."""
    (x0, y0), (x1, y1) = low, high
    vertices = np.array([[x0, y0, z], [x1, y0, z], [x1, y1, z], [x0, y1, z]], float)
    return Model(vertices[None], np.array([[0, 1, 2], [0, 2, 3]]), surface, smooth=False)
