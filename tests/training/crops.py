"""Rectified crops of rendered players with their truth, to train and test the network on.

`python -m tests.training crops --train 1000 FOLDER` renders stills and takes the player's crop out
of each, with a margin that training needs to shift it in. To train, a
person takes several stances in one hall, in a picture hardly larger than the crop: three times
as many crops in the same time. Training can begin while crops are still being taken. Crops of play
come from `play_crops`.
"""

import multiprocessing
import os
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from stance.court.camera import Camera
from stance.measures.rectified_crop import (
    RECTIFIED_FACTOR,
    RECTIFIED_PIXELS,
    rectified_camera,
    rectified_crop,
)
from tests.rendering.cameras import VIEWS
from tests.rendering.skeleton import JOINT_NAMES
from tests.rendering.splits import SPLITS
from tests.rendering.stills import Still, render_series

MARGIN = 1.25
SIZE = round(RECTIFIED_PIXELS * MARGIN)

# How large a player to train on is in the picture at most, pixels.
TRAIN_TALLEST_PX = (150.0, 270.0)

HANDS = ("right", "left")

# Arrays of a folder, one row a still; `done` marks which rows are there.
_ARRAYS: dict[str, tuple[type, tuple[int, ...]]] = {
    "pictures": (np.uint8, (SIZE, SIZE, 3)),
    "matrix": (np.float64, (3, 3)),
    "rotation": (np.float64, (3, 3)),
    "translation": (np.float64, (3,)),
    "joints": (np.float64, (len(JOINT_NAMES), 3)),
    "view": (np.uint8, ()),
    "hand": (np.uint8, ()),
    "done": (np.uint8, ()),
}


@dataclass(frozen=True)
class Crops:
    """Crops with the margin, and what is true of them.

    Attributes
    ----------
    pictures : (stills, SIZE, SIZE, 3) uint8 RGB
    matrix, rotation, translation : (stills, 3, 3), (stills, 3, 3), (stills, 3) of the crop's
        camera
    joints : (stills, 17, 3) metres, court frame
    view : (stills,) where the camera stood
    hand : (stills,) racket hand
    row : (stills,) of the folder's arrays
    """

    pictures: np.ndarray
    matrix: np.ndarray
    rotation: np.ndarray
    translation: np.ndarray
    joints: np.ndarray
    view: np.ndarray
    hand: np.ndarray
    row: np.ndarray


@dataclass(frozen=True)
class Source:
    """Where crops come from.

    Attributes
    ----------
    render : from a seed and a split, crops with their truth, each as in `_ARRAYS`, and which of the
        seed's rows each one is
    rows : at most, of a seed
    """

    render: Callable[[int, str], Iterable[tuple[int, dict[str, np.ndarray]]]]
    rows: int


@dataclass(frozen=True)
class Truth:
    """What the network should predict of crops.

    Attributes
    ----------
    points : (stills, KEYPOINTS, 2) pixels of the crop with its margin
    joints : (stills, 17, 3) metres right of, away from and above the middle of the hips
    targets : (stills, targets) in the order of `TARGETS`; the feet are left at 0, see `points`
    elevation, scale : (stills,) radians; log of metres per pixel
    """

    points: np.ndarray
    joints: np.ndarray
    targets: np.ndarray
    elevation: np.ndarray
    scale: np.ndarray


def truth_of(crops: Crops) -> Truth:
    """What the network should predict of crops."""
    joints = crops.joints.astype(float)
    rotation, matrix = crops.rotation, crops.matrix

    def pair(name: str) -> np.ndarray:
        return joints[:, [JOINT_NAMES.index(f"{side}_{name}") for side in ("left", "right")]]

    feet = (pair("heel") + pair("toe")) / 2
    feet[..., 2] = 0.0
    points = np.concatenate([joints, feet], axis=1)
    seen = np.einsum("nij,nkj->nki", rotation, points) + crops.translation[:, None]
    pixels = np.einsum("nij,nkj->nki", matrix, seen)
    flat = rotation[:, 2, :2] / np.linalg.norm(rotation[:, 2, :2], axis=-1, keepdims=True)
    axes = np.zeros((len(joints), 3, 3))
    axes[:, 0] = rotation[:, 0]
    axes[:, 1, :2] = flat
    axes[:, 2, 2] = 1.0
    hips, shoulders, knees, ankles = (pair(n) for n in ("hip", "shoulder", "knee", "ankle"))
    middle = hips.mean(axis=1)

    def across(ends: np.ndarray) -> np.ndarray:
        line = np.einsum("nij,nj->ni", axes[:, :2, :2], (ends[:, 1] - ends[:, 0])[:, :2])
        return line / np.linalg.norm(line, axis=-1, keepdims=True)

    thigh, shin = knees - hips, ankles - knees
    long = np.linalg.norm(thigh, axis=-1), np.linalg.norm(shin, axis=-1)
    bend = np.arccos(np.clip((thigh * shin).sum(-1) / long[0] / long[1], -1, 1))
    offset = np.einsum("nij,nj->ni", axes[:, :2, :2], (middle - feet.mean(axis=1))[:, :2])
    targets = np.concatenate(
        [
            across(hips),
            across(shoulders),
            np.zeros((len(joints), 4)),
            bend,
            offset,
            np.linalg.norm(hips[:, 1] - hips[:, 0], axis=-1)[:, None],
            (long[0] + long[1]).mean(axis=1)[:, None],
        ],
        axis=1,
    )
    base_depth = seen[:, len(JOINT_NAMES) :, 2].mean(axis=1)
    return Truth(
        pixels[..., :2] / pixels[..., 2:],
        np.einsum("nij,nkj->nki", axes, joints - middle[:, None]),
        targets,
        np.arcsin(-rotation[:, 2, 2]),
        np.log(base_depth / matrix[:, 0, 0]),
    )


def still_crops(stances: int) -> Source:
    """Crops of stills of people, each in so many stances."""
    return Source(partial(_render_stills, stances), stances)


def _render_stills(
    stances: int, seed: int, split: str
) -> Iterable[tuple[int, dict[str, np.ndarray]]]:
    """Render a person's stances one after the other."""
    tallest = np.inf
    if split == "train":
        tallest = np.random.default_rng([len(SPLITS), seed]).uniform(*TRAIN_TALLEST_PX)
    return enumerate(cut_out(still) for still in render_series(seed, split, stances, tallest))


def cut_out(still: Still) -> dict[str, np.ndarray]:
    """A still's crop and truth, as in `_ARRAYS`."""
    shift = np.array([[1.0, 0.0, still.offset[0]], [0.0, 1.0, still.offset[1]], [0, 0, 1.0]])
    height, width = still.image.shape[:2]
    camera = Camera(
        np.linalg.inv(shift) @ still.camera.matrix,
        still.camera.rotation,
        still.camera.translation,
        (width, height),
    )
    pixels = still.camera.project(still.joints)[:, :2] - still.offset
    crop_camera = rectified_camera(camera, pixels, SIZE, RECTIFIED_FACTOR * MARGIN)
    return {
        "pictures": rectified_crop(still.image, camera, crop_camera),
        "matrix": crop_camera.matrix,
        "rotation": crop_camera.rotation,
        "translation": crop_camera.translation,
        "joints": still.joints,
        "view": np.uint8(VIEWS.index(still.view)),
        "hand": np.uint8(HANDS.index(still.hand)),
        "done": np.uint8(1),
    }


def _open(folder: Path, count: int | None) -> dict[str, np.ndarray]:
    """Map a folder's arrays: new ones of `count` rows, or those that are there."""
    return {
        name: np.lib.format.open_memmap(
            folder / f"{name}.npy",
            "r" if count is None else "w+",
            kind,
            None if count is None else (count, *shape),
        )
        for name, (kind, shape) in _ARRAYS.items()
    }


def _work(jobs: list[tuple[Path, str, int, int]], source: Source, deadline: float) -> None:
    """Render crops (folder, split, seed, first row) until the deadline."""
    arrays: dict[Path, dict[str, np.ndarray]] = {}
    for folder, split, seed, row in jobs:
        if time.time() > deadline:
            break
        if folder not in arrays:
            arrays[folder] = {
                name: np.load(folder / f"{name}.npy", mmap_mode="r+") for name in _ARRAYS
            }
        for number, found in source.render(seed, split):
            # `done` comes last.
            for name, value in found.items():
                arrays[folder][name][row + number] = value


def build(
    parts: list[tuple[str, int]],
    source: Source,
    first: int,
    workers: int,
    seconds: float,
    folder: Path,
) -> None:
    """Render crops into folders named after their splits.

    Parameters
    ----------
    parts : splits and numbers of seeds, in this order
    source : of the crops
    first : the first seed
    workers : processes
    seconds : after which no more are begun
    folder : that holds the splits' folders
    """
    start = time.time()
    for variable in ("OMP_NUM_THREADS", "NUMBA_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ[variable] = "1"
    for split, count in parts:
        (folder / split).mkdir(parents=True, exist_ok=True)
        _open(folder / split, count * source.rows)
    jobs = [
        (folder / split, split, first + number, number * source.rows)
        for split, count in parts
        for number in range(count)
    ]
    context = multiprocessing.get_context("spawn")
    processes = [
        context.Process(target=_work, args=(jobs[k::workers], source, start + seconds))
        for k in range(workers)
    ]
    for process in processes:
        process.start()
    for process in processes:
        process.join()
    for split, _ in parts:
        count = np.load(folder / split / "done.npy").sum()
        print(f"{split}: {count} crops", flush=True)
    print(f"{time.time() - start:.0f} s", flush=True)


def load(folder: Path, besides: np.ndarray | None = None) -> Crops:
    """Return the crops of a folder that are there, without those of some rows."""
    arrays = _open(folder, None)
    row = np.flatnonzero(arrays["done"])
    if besides is not None:
        row = np.setdiff1d(row, besides)
    found = {name: arrays[name][row] for name in _ARRAYS if name not in ("done", "view", "hand")}
    return Crops(
        **found,
        view=np.array(VIEWS)[arrays["view"][row]],
        hand=np.array(HANDS)[arrays["hand"][row]],
        row=row,
    )
