"""What a network in training predicts of test samples, and how far it is off."""

from dataclasses import dataclass

import numpy as np
import torch

from stance.measures.network_outputs import TARGETS, unmirror_predictions
from tests.rendering.cameras import VIEWS
from tests.training.batches import BATCH, batch_of
from tests.training.prediction_errors import prediction_errors
from tests.training.reader import Reader
from tests.training.recordings import Recording, print_recording
from tests.training.samples import Samples


@dataclass(frozen=True)
class HeldOut:
    """What a network in training is tested on: samples by split, and a real recording."""

    samples: dict[str, Samples]
    recording: Recording | None

    def only(self, split: str) -> "HeldOut":
        """Return the same with the samples of one split."""
        return HeldOut({split: self.samples[split]}, self.recording)


def run_tests(model: Reader, held_out: HeldOut) -> dict[str, np.ndarray]:
    """Print errors on all that was held out; return what is predicted and true."""
    found = {}
    for name, samples in held_out.samples.items():
        print(f" {name}", flush=True)
        predicted, true = predict(model, samples)
        print_errors(predicted, true, samples.view)
        found |= {
            f"{name} predicted": predicted,
            f"{name} true": true,
            f"{name} view": samples.view,
            f"{name} elevation": samples.elevation.cpu().numpy(),
            f"{name} scale": samples.scale.cpu().numpy(),
        }
    if held_out.recording is not None:
        print_recording(model, held_out.recording)
    return found


@torch.no_grad()
def predict(model: Reader, samples: Samples) -> tuple[np.ndarray, np.ndarray]:
    """Return what a model predicts of each crop and of its mirror image, and what is true.

    Returns
    -------
    (stills, 2, targets + errors), both as of the crop; (stills, targets)
    """
    flags = torch.backends.cudnn
    usual = flags.allow_tf32, flags.benchmark
    flags.allow_tf32, flags.benchmark = False, False
    predicted, true = [], []
    for first in range(0, len(samples.pictures), BATCH):
        rows = torch.arange(
            first, min(first + BATCH, len(samples.pictures)), device=samples.pictures.device
        )
        sides = []
        for mirrored in (False, True):
            batch = batch_of(
                samples, rows, torch.full_like(rows, mirrored, dtype=torch.bool), jitter=False
            )
            sides.append(model(batch.pictures, batch.geometry).cpu().numpy().astype(float))
            if not mirrored:
                true.append(batch.targets.cpu().numpy().astype(float))
        sides[1] = unmirror_predictions(sides[1])
        predicted.append(np.stack(sides, axis=1))
    flags.allow_tf32, flags.benchmark = usual
    return np.concatenate(predicted), np.concatenate(true)


def print_errors(predicted: np.ndarray, true: np.ndarray, view: np.ndarray) -> float:
    """Print errors on stills; return the mean absolute error of the hips, degrees."""
    count = len(TARGETS)
    single = np.abs(prediction_errors(predicted[:, 0, :count], true))[:, 0].mean()
    errors = prediction_errors(predicted[..., :count].mean(axis=1), true)
    inside = (np.abs(errors) < 1.96 * np.exp(predicted[..., count:].mean(axis=1))).mean(axis=0)
    for name in (*VIEWS, "all"):
        e = errors[(view == name) | (name == "all")]
        if not len(e):
            continue
        size = np.abs(e).mean(axis=0)
        print(
            f"  {name:<7} {len(e):5d} hips {size[0]:5.2f} (bias {e[:, 0].mean():5.2f}, 95 % "
            f"{np.percentile(np.abs(e[:, 0]), 95):5.1f}, over 60: "
            f"{(np.abs(e[:, 0]) > 60).sum():3d}) shoulders {size[1]:5.2f} line "
            f"{size[2]:5.2f} {size[3]:5.2f} px base {size[4]:5.2f} {size[5]:5.2f} px knees "
            f"{size[6:8].mean():5.2f}",
            flush=True,
        )
    print(f"  one side alone: hips {single:.2f}; inside 95 %: {np.round(inside, 3)}", flush=True)
    return float(np.abs(errors[:, 0]).mean())
