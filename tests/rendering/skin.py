"""The skin of a dressed person, and its face."""

import numpy as np

from tests.rendering.arrays import BoolArray, FloatArray, IntArray
from tests.rendering.body import (
    REGION_BROW,
    REGION_EYE,
    REGION_LIPS,
    Body,
)
from tests.rendering.figure import SKIN, Outfit, Piece
from tests.rendering.hair import head_size
from tests.rendering.light import linear


def skin_piece(body: Body, outfit: Outfit, shirt: BoolArray, trousers: BoolArray) -> Piece:
    """The skin that can be seen, with lips, brows and eyes coloured."""
    model = body.model
    inside = _deep_inside(model.triangles, shirt | trousers, len(body.vertices))
    names = np.array(model.bone_names)[model.weight_bones[:, 0]]
    foot = np.char.startswith(names, "toe") | (
        np.char.startswith(names, "foot") & (body.vertices[:, 2] < 0.9 * body.head_of("foot.L")[2])
    )
    hidden = all_corners(inside, model.triangles) | all_corners(foot, model.triangles)
    return Piece(
        body.vertices,
        model.triangles[~hidden],
        _face_colours(body, outfit),
        model.weights,
        model.weight_bones,
        SKIN,
    )


def all_corners(chosen: BoolArray, triangles: IntArray) -> BoolArray:
    """Which triangles (n, 3) have all their corners among the chosen vertices."""
    return chosen[triangles[:, 0]] & chosen[triangles[:, 1]] & chosen[triangles[:, 2]]


def _deep_inside(triangles: IntArray, covered: BoolArray, count: int) -> BoolArray:
    """Vertices at least two rings of triangles away from the edge of a garment."""
    inside = covered.copy()
    for _ in range(2):
        edge = triangles[~all_corners(inside, triangles)]
        touched = np.zeros(count, dtype=bool)
        touched[edge] = True
        inside &= ~touched
    return inside


def _face_colours(body: Body, outfit: Outfit) -> FloatArray:
    """Linear colours (vertices, 3) of the skin, with lips, brows, eyes and flushed cheeks."""
    model, vertices = body.model, body.vertices
    skin, hair = linear(outfit.skin), linear(outfit.hair)
    colours = np.repeat(skin[None], len(vertices), axis=0)
    scale = head_size(body)
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
