"""Portraits of rendered players with their truth, to train and test the network on.

`python -m tests.training portraits --split train --count 1000 FOLDER` renders stills and takes
the player's portrait out of each, with a margin that training needs to shift it in. Training can
begin while portraits are still being taken.
"""

import multiprocessing
import os
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from stance.camera import Camera
from stance.portrait import PORTRAIT_FACTOR, PORTRAIT_PIXELS, portrait, portrait_camera
from tests.rendering.cameras import VIEWS
from tests.rendering.skeleton import JOINT_NAMES
from tests.rendering.stills import render_still

MARGIN = 1.25
SIZE = round(PORTRAIT_PIXELS * MARGIN)

# Arrays of a folder, one row a still; `done` tells which rows are there.
_ARRAYS: dict[str, tuple[type, tuple[int, ...]]] = {
    "pictures": (np.uint8, (SIZE, SIZE, 3)), "matrix": (np.float64, (3, 3)),
    "rotation": (np.float64, (3, 3)), "translation": (np.float64, (3,)),
    "joints": (np.float64, (len(JOINT_NAMES), 3)), "done": (np.uint8, ()),
}


@dataclass(frozen=True)
class Portraits:
    """Portraits with the margin, and what is true of them.

    Attributes
    ----------
    pictures : (stills, SIZE, SIZE, 3) uint8 RGB
    matrix, rotation, translation : (stills, 3, 3), (stills, 3, 3), (stills, 3) of the portrait's
        camera
    joints : (stills, 17, 3) metres, court frame
    view : (stills,) where the camera stood
    seed : (stills,)
    """

    pictures: np.ndarray
    matrix: np.ndarray
    rotation: np.ndarray
    translation: np.ndarray
    joints: np.ndarray
    view: np.ndarray
    seed: np.ndarray


def take(seed: int, split: str) -> dict[str, np.ndarray]:
    """Render one still; return its portrait and its truth, as in `_ARRAYS`."""
    still = render_still(seed, split)
    shift = np.array([[1.0, 0.0, still.offset[0]], [0.0, 1.0, still.offset[1]], [0, 0, 1.0]])
    height, width = still.image.shape[:2]
    camera = Camera(np.linalg.inv(shift) @ still.camera.matrix, still.camera.rotation,
                    still.camera.translation, (width, height))
    pixels = still.camera.project(still.joints)[:, :2] - still.offset
    taker = portrait_camera(camera, pixels, SIZE, PORTRAIT_FACTOR * MARGIN)
    return {"pictures": portrait(still.image, camera, taker), "matrix": taker.matrix,
            "rotation": taker.rotation, "translation": taker.translation,
            "joints": still.joints, "done": np.uint8(1)}


def _open(folder: Path, count: int | None) -> dict[str, np.ndarray]:
    """Map a folder's arrays: new ones of `count` rows, or those that are there."""
    return {name: np.lib.format.open_memmap(
                folder / f"{name}.npy", "r" if count is None else "w+", kind,
                None if count is None else (count, *shape))
            for name, (kind, shape) in _ARRAYS.items()}


def _work(jobs: list[tuple[Path, str, int]], deadline: float) -> None:
    """Render stills (folder, split, seed) until the deadline."""
    arrays: dict[Path, dict[str, np.ndarray]] = {}
    for folder, split, seed in jobs:
        if time.time() > deadline:
            break
        if folder not in arrays:
            arrays[folder] = {name: np.load(folder / f"{name}.npy", mmap_mode="r+")
                              for name in _ARRAYS}
        # `done` comes last.
        for name, value in take(seed, split).items():
            arrays[folder][name][seed] = value


def build(parts: list[tuple[str, int]], workers: int, seconds: float, folder: Path) -> None:
    """Render stills into folders named after their splits.

    Parameters
    ----------
    parts : splits and numbers of stills, seeds from 0 on, in this order
    workers : processes
    seconds : after which no more are begun
    folder : that holds the splits' folders
    """
    start = time.time()
    for variable in ("OMP_NUM_THREADS", "NUMBA_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ[variable] = "1"
    for split, count in parts:
        (folder / split).mkdir(parents=True, exist_ok=True)
        _open(folder / split, count)
    jobs = [(folder / split, split, seed) for split, count in parts for seed in range(count)]
    context = multiprocessing.get_context("spawn")
    processes = [context.Process(target=_work, args=(jobs[k::workers], start + seconds))
                 for k in range(workers)]
    for process in processes:
        process.start()
    for process in processes:
        process.join()
    for split, _ in parts:
        print(f"{split}: {len(load(folder / split).seed)} portraits", flush=True)
    print(f"{time.time() - start:.0f} s", flush=True)


def load(folder: Path, besides: np.ndarray | None = None) -> Portraits:
    """Return the portraits of a folder that are there, without those of some seeds."""
    arrays = _open(folder, None)
    seed = np.flatnonzero(arrays["done"])
    if besides is not None:
        seed = np.setdiff1d(seed, besides)
    return Portraits(**{name: arrays[name][seed] for name in _ARRAYS if name != "done"},
                     view=np.array(VIEWS)[seed % len(VIEWS)], seed=seed)
