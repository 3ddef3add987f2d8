"""Rectified crops and their truth on the device that trains."""

from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np
import torch
from torch import Tensor

from stance.measures.network_outputs import TARGETS
from tests.training.crops import Crops, load, truth_of


@dataclass(frozen=True)
class Samples:
    """Crops on the device; places in pixels of the crop with its margin.

    Attributes
    ----------
    pictures : (stills, SIZE, SIZE, 3) uint8 RGB
    points : (stills, KEYPOINTS, 2) pixels
    joints : (stills, 17, 3) metres right of, away from and above the middle of the hips
    targets : (stills, targets); feet, in pixels, are filled in from the points
    elevation, scale : (stills,) radians; log of metres per pixel
    view : (stills,) where the camera stood
    row : (stills,) of the folder they came from
    """

    pictures: Tensor
    points: Tensor
    joints: Tensor
    targets: Tensor
    elevation: Tensor
    scale: Tensor
    view: np.ndarray
    row: np.ndarray


def samples_of(crops: Crops, device: torch.device) -> Samples:
    """Put crops and what is true of them onto the device."""
    truth = truth_of(crops)
    assert truth.targets.shape[1] == len(TARGETS)
    pictures = torch.empty(crops.pictures.shape, dtype=torch.uint8, device=device)
    for first in range(0, len(pictures), 1024):
        pictures[first : first + 1024] = torch.from_numpy(
            np.ascontiguousarray(crops.pictures[first : first + 1024])
        ).to(device)

    def tensor(values: np.ndarray) -> Tensor:
        return torch.from_numpy(values.astype(np.float32)).to(device)

    return Samples(
        pictures,
        tensor(truth.points),
        tensor(truth.joints),
        tensor(truth.targets),
        tensor(truth.elevation),
        tensor(truth.scale),
        crops.view,
        crops.row,
    )


def more_samples(samples: Samples, folder: Path) -> Samples:
    """Add the crops that have come into a folder since."""
    found = samples_of(load(folder, samples.row), samples.pictures.device)
    return Samples(
        *(
            torch.cat([old, new]) if isinstance(old, Tensor) else np.concatenate([old, new])
            for old, new in (
                (getattr(samples, field.name), getattr(found, field.name))
                for field in fields(Samples)
            )
        )
    )
