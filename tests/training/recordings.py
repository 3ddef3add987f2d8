"""A real recording by several cameras, to test a network in training on."""

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import torch
from torch import Tensor

from stance.measures.network_outputs import unmirror_predictions
from tests.training.batches import geometry_of
from tests.training.reader import Reader


@dataclass(frozen=True)
class Recording:
    """A real recording by several cameras at once.

    Attributes
    ----------
    pictures : (pictures, 256, 256, 3) uint8 RGB
    geometry : (pictures, 3)
    axes : (pictures, 2, 2) rows right, away of the view
    reference : (pictures, 2) degrees, directions of hips and shoulders, left to right
    camera : (pictures,) number of the camera
    """

    pictures: Tensor
    geometry: Tensor
    axes: np.ndarray
    reference: np.ndarray
    camera: np.ndarray


def load_recording(path: Path, device: torch.device) -> Recording:
    """Load a real recording; its pictures are JPEG files, one after the other."""
    with np.load(path, allow_pickle=False) as file:
        arrays = {name: file[name] for name in file.files}
    parts = np.split(arrays["jpeg"], np.cumsum(arrays["length"])[:-1])
    pictures = np.stack([cv2.imdecode(part, cv2.IMREAD_COLOR)[..., ::-1] for part in parts])
    return Recording(
        torch.from_numpy(pictures).to(device),
        geometry_of(
            *(
                torch.from_numpy(arrays[name].astype(np.float32)).to(device)
                for name in ("elevation", "scale")
            )
        ),
        arrays["axes"],
        arrays["reference"],
        arrays["camera"],
    )


@torch.no_grad()
def print_recording(model: Reader, recording: Recording) -> None:
    """Print errors of hips and shoulders on a real recording, per camera."""
    pictures = recording.pictures.permute(0, 3, 1, 2).float() / 255.0
    sides = [
        np.concatenate(
            [
                model(p[i : i + 64], recording.geometry[i : i + 64]).cpu().numpy()
                for i in range(0, len(p), 64)
            ]
        )
        for p in (pictures, pictures.flip(3))
    ]
    predicted = (sides[0] + unmirror_predictions(sides[1])) / 2
    lines = []
    for camera in np.unique(recording.camera):
        rows = recording.camera == camera
        words = [f"camera {camera}"]
        for part, name in enumerate(("hips", "shoulders")):
            pair = predicted[rows, 2 * part : 2 * part + 2]
            court = np.einsum("ni,nij->nj", pair, recording.axes[rows])
            off = np.degrees(np.arctan2(court[:, 1], court[:, 0])) - recording.reference[rows, part]
            off = (off + 180.0) % 360.0 - 180.0
            words.append(f"{name} {np.abs(off).mean():5.2f} (bias {off.mean():6.2f})")
        lines.append(" ".join(words))
    print("  real: " + " | ".join(lines), flush=True)
