"""What the pose models see in rendered stills, as arrays to train and choose on.

`python -m tests.training looks --split train --first 0 --count 1000 FILE.npz` renders stills and
runs every model on each crop and its mirror image.
"""

import functools
import multiprocessing
from pathlib import Path

import numpy as np

from stance.players import CROP_FACTOR
from stance.poses import Box, Landmarker, Pose
from tests.rendering.stills import render_still

MODELS = ("lite", "full", "heavy")


@functools.cache
def _landmarkers() -> tuple[Landmarker, ...]:
    """The models of this process; loading them takes longer than a look."""
    return tuple(Landmarker(model) for model in MODELS)


def crop_box(points: np.ndarray, rng: np.random.Generator) -> Box:
    """A square around a player as following them gives it: a little off, a little large or small.

    Parameters
    ----------
    points : (points, 2) pixels: the player's joints in the picture
    """
    low, high = points.min(axis=0), points.max(axis=0)
    side = CROP_FACTOR * (high - low).max() * rng.uniform(0.92, 1.12)
    middle = (low + high) / 2 + rng.normal(0, 0.03, 2) * side
    return Box(*(middle - side / 2), side)


def look_at_still(job: tuple[str, int]) -> dict[str, np.ndarray] | None:
    """Render one still and run all models on it; None where a model sees nobody.

    Parameters
    ----------
    job : split and seed of the still
    """
    split, seed = job
    still = render_still(seed, split)
    rng = np.random.default_rng([seed, 77])
    box = crop_box(still.camera.project(still.joints)[:, :2] - still.offset, rng)
    poses: list[Pose] = []
    for landmarker in _landmarkers():
        for mirror in (False, True):
            pose = landmarker.detect(still.image, box, mirror)
            if pose is None:
                return None
            poses.append(pose)
    shift = np.array(still.offset, float)
    return {
        "seed": np.array(seed),
        "box": np.array([box.x + shift[0], box.y + shift[1], box.side]),
        "pixels": np.array([(p.pixels - (box.x, box.y)) / box.side - 0.5
                            for p in poses]).astype(np.float16),
        "visibility": np.array([p.visibility for p in poses]).astype(np.float16),
        "world": np.array([p.world for p in poses]).astype(np.float16),
        "matrix": still.camera.matrix,
        "rotation": still.camera.rotation,
        "translation": still.camera.translation,
        "size": np.array(still.camera.size),
        "hand": np.array(still.hand),
        "view": np.array(still.view),
        "joints": still.joints.astype(np.float32),
    }


def build(split: str, first: int, count: int, workers: int, path: Path) -> None:
    """Write the looks at `count` stills, from seed `first` on, to a compressed file."""
    jobs = [(split, seed) for seed in range(first, first + count)]
    rows = []
    with multiprocessing.get_context("spawn").Pool(workers) as pool:
        for row in pool.imap(look_at_still, jobs, chunksize=4):
            if row is not None:
                rows.append(row)
    arrays = {name: np.stack([row[name] for row in rows]) for name in rows[0]}
    np.savez_compressed(path, **arrays)
    print(f"{path}: {len(rows)} of {count} stills seen by every model")
