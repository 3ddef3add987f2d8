"""From recorded looks to what the correction reads (features) and should say (targets)."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from stance.body import base_on_floor, feet_on_floor, side_indices
from stance.camera import Camera
from stance.correction import TARGETS, view_features
from stance.poses import Look, Pose, look_from
from tests.rendering.skeleton import JOINT_NAMES
from tests.training.looks import MODELS

HANDS = ("right", "left")


@dataclass(frozen=True)
class Dataset:
    """Features and targets of stills, each taken once with either hand as the racket hand.

    Attributes
    ----------
    features : (rows, features)
    targets : (rows, targets) in the order of `stance.correction.TARGETS`
    still : (rows,) number of the still
    view : (rows,) where the camera stood
    true_hand : (rows,) whether the hand is the one that holds the racket
    """

    features: np.ndarray
    targets: np.ndarray
    still: np.ndarray
    view: np.ndarray
    true_hand: np.ndarray


def load_looks(paths: Sequence[Path]) -> dict[str, np.ndarray]:
    """Return recorded looks, joined over files."""
    files = [np.load(path, allow_pickle=False) for path in paths]
    return {name: np.concatenate([file[name] for file in files]) for name in files[0].files}


def look_of(looks: dict[str, np.ndarray], row: int) -> tuple[Camera, Look]:
    """Return the camera and the look of one still."""
    x, y, side = looks["box"][row]
    poses = []
    for i in range(2 * MODELS.index("full"), 2 * len(MODELS)):
        pixels = (looks["pixels"][row, i].astype(float) + 0.5) * side + (x, y)
        poses.append(Pose(pixels, looks["visibility"][row, i].astype(float),
                          looks["world"][row, i].astype(float)))
    size = looks["size"][row]
    camera = Camera(looks["matrix"][row], looks["rotation"][row], looks["translation"][row],
                    (int(size[0]), int(size[1])))
    return camera, look_from(poses)


def targets_of(
    camera: Camera, look: Look, joints: np.ndarray, hand: str, axes: np.ndarray,
    elevation: float,
) -> np.ndarray:
    """What the correction should say of a still, (targets,), in the view's frame.

    Parameters
    ----------
    camera : Camera
    look : Look
    joints : (17, 3) metres, court frame
    hand : "right" or "left"
    axes : (3, 3) rows right, away, up of the view
    elevation : radians
    """
    def pair(name: str) -> np.ndarray:
        left, right = (JOINT_NAMES.index(f"{side}_{name}") for side in ("left", "right"))
        return joints[list(side_indices(hand, left, right))]

    flat = axes[:2, :2]
    hips, knees, ankles = pair("hip"), pair("knee"), pair("ankle")
    feet = (pair("heel") + pair("toe"))[:, :2] / 2
    seen = feet_on_floor(camera, look.heavy.pixels, hand).mean(axis=1)
    shows = np.array([1.0, np.sin(elevation)])
    line = flat @ ((feet[0] - feet[1]) - (seen[0] - seen[1])) * shows
    base = flat @ (feet.mean(axis=0) - seen.mean(axis=0)) * shows
    thigh, shin = knees - hips, ankles - knees
    bend = np.arccos(np.clip((thigh * shin).sum(-1) / np.linalg.norm(thigh, axis=-1)
                             / np.linalg.norm(shin, axis=-1), -1, 1))
    hip_line, shoulders = (flat @ (p[0] - p[1])[:2] for p in (hips, pair("shoulder")))
    middle = flat @ (hips.mean(axis=0)[:2] - base_on_floor(camera, look.heavy.pixels))
    leg = (np.linalg.norm(thigh, axis=-1) + np.linalg.norm(shin, axis=-1)).mean()
    return np.concatenate([
        hip_line / np.linalg.norm(hip_line), shoulders / np.linalg.norm(shoulders), line, base,
        bend, middle, [np.linalg.norm(hips[0] - hips[1]), leg]])


def dataset(looks: dict[str, np.ndarray]) -> Dataset:
    """Return features and targets of recorded looks."""
    features, targets, stills, true_hand = [], [], [], []
    for row in range(len(looks["seed"])):
        camera, look = look_of(looks, row)
        for hand in HANDS:
            view, found = view_features(camera, look, hand)
            target = targets_of(camera, look, looks["joints"][row].astype(float), hand,
                                view.axes, view.elevation)
            if not np.isfinite(found).all():
                continue
            features.append(found)
            targets.append(target)
            stills.append(row)
            true_hand.append(hand == looks["hand"][row])
    still = np.array(stills)
    assert len(targets[0]) == len(TARGETS)
    return Dataset(np.array(features), np.array(targets), still, looks["view"][still],
                   np.array(true_hand))
