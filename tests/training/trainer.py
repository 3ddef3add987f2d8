"""Train the network that reads a player's rectified crop: the pose model's, fine-tuned.

`python -m tests.training train ...` trains in a time given on crops of `crops`.
"""

import contextlib
import copy
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional

from stance.measures.network_outputs import TARGETS
from tests.training.augmentation import augmented
from tests.training.batches import BATCH, batch_of
from tests.training.crops import load
from tests.training.losses import prediction_loss
from tests.training.reader import Reader, with_feet, write_onnx
from tests.training.samples import Samples, more_samples, samples_of
from tests.training.testing import HeldOut, run_tests
from tests.training.tflite import Graph

# So many batches are changed by `augmented`; all of them made training harder than what follows,
# and all standard errors too large.
AUGMENTED_SHARE = 0.3
SEED = 20261125
BACKBONE_RATE = 1e-4
HEAD_RATE = 1e-3
HEAD_DECAY = 0.05
WARM_UP = 0.04
AVERAGING = 0.999
LARGEST_GRADIENT = 5.0
POINT_WEIGHT = 20.0
JOINT_WEIGHT = 4.0
DISTILLATION = 0.05
# Landmarks are in pixels of the crop; a difference of this many counts as one.
DISTILLATION_SCALE = 10.0
FINISH_SECONDS = 25.0


class Trainer:
    """Training of a reader on samples.

    Parameters
    ----------
    model : Reader
    samples : Samples
    """

    def __init__(self, model: Reader, samples: Samples) -> None:
        self.model, self.samples = model, samples
        self.device = samples.pictures.device
        self.rng = np.random.default_rng(SEED)
        self.averaged = copy.deepcopy(model).requires_grad_(False).eval()
        self.original = copy.deepcopy(model.late).requires_grad_(False)
        self.steps = self.lost = 0
        own = [
            p
            for name, p in model.named_parameters()
            if not name.startswith(("early", "late", "landmark_layer"))
        ]
        self.optimizer = torch.optim.AdamW(
            [
                {"params": own, "lr": HEAD_RATE, "weight_decay": HEAD_DECAY},
                {
                    "params": list(model.late.parameters()),
                    "lr": BACKBONE_RATE,
                    "weight_decay": 1e-3,
                },
            ]
        )
        self.rates = [float(group["lr"]) for group in self.optimizer.param_groups]
        self.trained = [p for group in self.optimizer.param_groups for p in group["params"]]

    def batches(self) -> Iterator[Tensor]:
        """Numbers of stills, without end."""
        while True:
            count = len(self.samples.pictures)
            order = self.rng.permutation(count)
            for first in range(0, max(count - BATCH, 0) + 1, BATCH):
                yield torch.from_numpy(order[first : first + BATCH]).to(self.device)

    def running(self) -> contextlib.AbstractContextManager[object]:
        """In which arithmetic convolutions run."""
        return torch.autocast(self.device.type, torch.bfloat16, enabled=self.device.type == "cuda")

    def loss(self, rows: Tensor) -> Tensor:
        """The loss of one batch."""
        model = self.model
        with torch.no_grad():
            mirrored = torch.rand(len(rows), device=self.device) < 0.5
            batch = batch_of(self.samples, rows, mirrored, jitter=True)
            pictures = batch.pictures
            if self.rng.uniform() < AUGMENTED_SHARE:
                pictures = augmented(pictures, self.rng)
            pictures = pictures.contiguous(memory_format=torch.channels_last)
        with self.running():
            with torch.no_grad():
                passed = model.first_part(pictures)
                then = model.landmark_layer({model.map: self.original(passed)[model.map]})[
                    model.landmarks
                ]
            tensors = model.late(passed)
            now = model.landmark_layer({model.map: tensors[model.map]})[model.landmarks]
        drift = functional.smooth_l1_loss(
            now.float() / DISTILLATION_SCALE, then.float() / DISTILLATION_SCALE
        )
        predicted, points, joints = model.read(
            tensors[model.map], tensors[model.detail], batch.geometry
        )
        predicted = with_feet(predicted, points)
        off = (points - batch.points).abs().mean()
        deep = functional.smooth_l1_loss(10 * joints, 10 * batch.joints.flatten(1))
        return (
            prediction_loss(
                predicted[:, : len(TARGETS)], predicted[:, len(TARGETS) :], batch.targets
            )
            + POINT_WEIGHT * off
            + JOINT_WEIGHT * 0.1 * deep
            + DISTILLATION * drift
        )

    def step(self, rows: Tensor, progress: float) -> Tensor:
        """Make one step; progress 0..1 of the time sets its length. Return the loss."""
        rate = min(progress / WARM_UP, 1.0) * 0.5 * (1.0 + np.cos(np.pi * min(progress, 1.0)))
        for group, full in zip(self.optimizer.param_groups, self.rates, strict=True):
            group["lr"] = full * rate
        self.optimizer.zero_grad(set_to_none=True)
        loss = self.loss(rows)
        loss.backward()
        size = nn.utils.clip_grad_norm_(self.trained, LARGEST_GRADIENT)
        if not torch.isfinite(size):
            self.lost += 1
            return loss.detach()
        self.optimizer.step()
        self.steps += 1
        share = min(AVERAGING, (1 + self.steps) / (10 + self.steps))
        with torch.no_grad():
            torch._foreach_lerp_(
                list(self.averaged.parameters()), list(self.model.parameters()), 1.0 - share
            )
        return loss.detach()


def train(
    graph: Graph,
    source: Path,
    held_out: HeldOut,
    seconds: float,
    every: float,
    folder: Path,
    weights: Path | None = None,
) -> None:
    """Train for a time; write the averaged weights, and what they predict of the test samples.

    Parameters
    ----------
    source : folder of crops to train on; those that come while training runs are taken in
    seconds : all in all
    held_out : what to test on meanwhile and at the end
    every : seconds between tests, each of which takes in more crops
    weights : of an earlier training, to go on from
    """
    start = time.monotonic()
    samples = samples_of(load(source), torch.device("cuda" if torch.cuda.is_available() else "cpu"))
    torch.manual_seed(SEED)
    device = samples.pictures.device
    model = Reader(graph).to(device)
    some = torch.linspace(0, len(samples.pictures) - 1, BATCH).long().to(device)
    model.standardise(batch_of(samples, some, some % 2 == 1, jitter=False).pictures)
    trainer = Trainer(model, samples)
    if weights is not None:
        earlier = torch.load(weights, map_location=device, weights_only=True)
        model.load_state_dict(earlier)
        trainer.averaged.load_state_dict(earlier)
    batches = trainer.batches()
    finish = start + seconds - min(FINISH_SECONDS, 0.3 * seconds)
    tested = start
    losses: list[Tensor] = []
    while (now := time.monotonic()) < finish:
        losses.append(trainer.step(next(batches), (now - start) / (finish - start)))
        if now - tested > every:
            tested = now
            trainer.samples = more_samples(trainer.samples, source)
            print(
                f"{now - start:.0f} s, {len(trainer.samples.row)} crops, {trainer.steps} "
                f"steps ({trainer.lost} lost), loss "
                f"{torch.stack(losses).mean():.3f}",
                flush=True,
            )
            losses.clear()
            run_tests(trainer.averaged, held_out.only("tune"))
    folder.mkdir(parents=True, exist_ok=True)
    print(f"end, {trainer.steps} steps ({trainer.lost} lost)", flush=True)
    np.savez(folder / "predictions.npz", **run_tests(trainer.averaged, held_out))
    torch.save(trainer.averaged.state_dict(), folder / "weights.pt")
    sample = batch_of(samples, some[:1], some[:1] < 0, jitter=False).pictures
    write_onnx(trainer.averaged, folder / "orientation.onnx", sample)
