"""Train the network that reads a player's portrait: the pose model's, fine-tuned.

Landmarks alone do not carry where the hips face; the picture does. A pose model's network,
trained on real people, is taken over; on its last maps sit heat maps of our own points (joints,
and the middles of the feet on the floor) and a small network that says directions, distances and
the logs of their standard errors. `stance.measures.orientation` runs the result.

`python -m tests.training train ...` trains in a time given on portraits of `portraits`.
"""

import contextlib
import copy
import time
import warnings
from collections.abc import Iterator
from dataclasses import dataclass, fields
from pathlib import Path

import cv2
import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional

from stance.measures.orientation import (
    ERRORS,
    KEYPOINTS,
    MIRROR_ORDER,
    MIRROR_SIGNS,
    TARGETS,
    mirrored_back,
)
from stance.measures.rectified_crop import RECTIFIED_PIXELS
from tests.rendering.cameras import VIEWS
from tests.rendering.skeleton import JOINT_NAMES
from tests.training.portraits import MARGIN, SIZE, Portraits, load, truth_of
from tests.training.tflite import Graph, Network

LANDMARK_LAYER = "convld_3d"
# Operations of this share of the network stay as they are: edges and textures are known.
FROZEN_SHARE = 0.3
JOINTS = len(JOINT_NAMES)

BATCH = 256
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

ERROR_WEIGHTS = (3.0, 1.5, 1.5, 1.5, 1.0, 1.0, 0.7, 0.7)
POINT_WEIGHT = 20.0
JOINT_WEIGHT = 4.0
DISTILLATION = 0.05
# Landmarks are in pixels of the crop; a difference of this many counts as one.
DISTILLATION_SCALE = 10.0
FIRST_LOG_ERROR = 2.0

# How unsure the geometry of a calibrated phone is: radians of elevation, share of the scale.
ELEVATION_NOISE = 0.012
SCALE_NOISE = 0.04

FINISH_SECONDS = 25.0

_LEFT, _RIGHT = (
    np.array([i for i, name in enumerate(JOINT_NAMES) if name.startswith(side)])
    for side in ("left", "right")
)
_SWAPPED_JOINTS = np.arange(JOINTS)
_SWAPPED_JOINTS[_LEFT], _SWAPPED_JOINTS[_RIGHT] = _RIGHT, _LEFT
_SWAPPED_POINTS = np.concatenate([_SWAPPED_JOINTS, [JOINTS + 1, JOINTS]])


@dataclass(frozen=True)
class Samples:
    """Portraits on the device; places in pixels of the portrait with its margin.

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


def samples_of(portraits: Portraits, device: torch.device) -> Samples:
    """Put portraits and what is true of them onto the device."""
    truth = truth_of(portraits)
    assert truth.targets.shape[1] == len(TARGETS)
    pictures = torch.empty(portraits.pictures.shape, dtype=torch.uint8, device=device)
    for first in range(0, len(pictures), 1024):
        pictures[first : first + 1024] = torch.from_numpy(
            np.ascontiguousarray(portraits.pictures[first : first + 1024])
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
        portraits.view,
        portraits.row,
    )


def more_samples(samples: Samples, folder: Path) -> Samples:
    """Add the portraits that have come into a folder since."""
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


class Reader(nn.Module):
    """The pose model's network with heat maps and a head of our own.

    Parameters
    ----------
    graph : of the pose model
    """

    def __init__(self, graph: Graph) -> None:
        super().__init__()
        landmarks = graph.producing(LANDMARK_LAYER)
        heat = next(o for o in graph.operations if o.output == graph.outputs["Identity_3"])
        self.input, self.map, self.detail = graph.input, landmarks.inputs[0], heat.inputs[0]
        self.landmarks = landmarks.output
        needed = graph.needed_for([self.map, self.detail])
        first = round(FROZEN_SHARE * len(needed))
        self.early = Network(graph, needed[:first]).requires_grad_(False)
        self.late = Network(graph, needed[first:])
        self.landmark_layer = Network(graph, [landmarks]).requires_grad_(False)
        self._passed = {i for o in needed[first:] for i in o.inputs} & {
            o.output for o in needed[:first]
        }
        size = int(np.prod(graph.weights[landmarks.weights[0]].shape[1:]))
        channels = graph.weights[heat.weights[0]].shape[1]
        self.register_buffer("map_mean", torch.zeros(size))
        self.register_buffer("map_scale", torch.ones(size))
        self.heat = nn.Sequential(
            nn.Conv2d(channels, 64, 3, padding=1), nn.ReLU(), nn.Conv2d(64, KEYPOINTS, 1)
        )
        self.from_map = nn.Linear(size, 256)
        self.from_points = nn.Linear(KEYPOINTS * channels, 192)
        self.hidden = nn.Sequential(
            nn.Linear(256 + 192 + 3 * KEYPOINTS + 3, 320), nn.ReLU(), nn.Linear(320, 256), nn.ReLU()
        )
        self.said = nn.Linear(256, len(TARGETS) + len(ERRORS))
        self.joints = nn.Linear(256, 3 * JOINTS)
        with torch.no_grad():
            self.said.bias[len(TARGETS) :] = FIRST_LOG_ERROR
        places = (torch.arange(64) + 0.5) / 64
        self.register_buffer(
            "places", torch.stack([places.repeat(64), places.repeat_interleave(64)], dim=1)
        )

    @torch.no_grad()
    def standardise(self, pictures: Tensor) -> None:
        """Standardise the last map by what it is on pictures (batch, 3, 256, 256) 0..1."""
        found = self.late(self.first_part(pictures))[self.map].flatten(1)
        scale = found.std(dim=0)
        self.map_mean.copy_(found.mean(dim=0))
        # What hardly ever changes must not be blown up.
        self.map_scale.copy_(scale + 0.2 * scale.mean())

    def first_part(self, pictures: Tensor) -> dict[int, Tensor]:
        """Run what never changes; return what the rest takes."""
        tensors = self.early({self.input: pictures})
        return {i: tensors[i] for i in self._passed}

    def read(self, last: Tensor, detail: Tensor, geometry: Tensor) -> tuple[Tensor, Tensor, Tensor]:
        """From the maps to what is said.

        Returns
        -------
        (batch, targets + errors); points (batch, KEYPOINTS, 2) 0..1; joints (batch, 51) metres
        """
        heat = self.heat(detail).flatten(2).float().softmax(dim=2)
        points = heat @ self.places
        spread = heat @ (self.places**2).sum(dim=1, keepdim=True) - (points**2).sum(
            dim=2, keepdim=True
        )
        sampled = heat @ detail.flatten(2).float().transpose(1, 2)
        flat = (last.flatten(1).float() - self.map_mean) / self.map_scale
        values = torch.cat(
            [
                functional.relu(self.from_map(flat.clamp(-6.0, 6.0))),
                functional.relu(self.from_points(sampled.flatten(1))),
                4.0 * (points.flatten(1) - 0.5),
                100.0 * spread.flatten(1),
                geometry,
            ],
            dim=1,
        )
        values = self.hidden(values)
        return self.said(values), points, self.joints(values)

    def forward(self, pictures: Tensor, geometry: Tensor) -> Tensor:
        """What is said, with the feet's places in 0..1 of the portrait put together."""
        tensors = self.late(self.first_part(pictures))
        said, points, _ = self.read(tensors[self.map], tensors[self.detail], geometry)
        return with_feet(said, points)


def with_feet(said: Tensor, points: Tensor) -> Tensor:
    """Add the heat maps' feet to what was said of how far they are off."""
    feet = points[:, JOINTS:].flatten(1)
    return torch.cat([said[:, :4], said[:, 4:8] * 0.02 + feet, said[:, 8:]], dim=1)


def geometry_of(elevation: Tensor, scale: Tensor) -> Tensor:
    """(batch, 3) what the network is told of the view; see `stance.measures.orientation`."""
    return torch.stack(
        [2.0 * torch.sin(elevation), 2.0 * (scale + 4.7), torch.exp(scale + 4.7) - 1.0], dim=1
    )


def _uniform(like: Tensor, low: float, high: float, *shape: int) -> Tensor:
    return torch.empty((len(like), *shape), device=like.device).uniform_(low, high)


def _chosen(like: Tensor, share: float) -> Tensor:
    """(batch, 1, 1, 1) true for about a share of the pictures."""
    return _uniform(like, 0, 1, 1, 1, 1) < share


@dataclass(frozen=True)
class Batch:
    """What one step learns from; points in 0..1 of the portrait."""

    pictures: Tensor
    geometry: Tensor
    points: Tensor
    joints: Tensor
    targets: Tensor


def batch_of(samples: Samples, rows: Tensor, mirrored: Tensor, jitter: bool) -> Batch:
    """Cut portraits out of those with margin, mirrored and shifted as asked.

    Parameters
    ----------
    rows : (batch,) stills
    mirrored : (batch,) bool
    jitter : shift, scale and turn a little, and disturb the geometry
    """
    pictures = samples.pictures[rows].permute(0, 3, 1, 2).float() / 255.0
    device = pictures.device
    count = len(rows)
    one = torch.ones(count, device=device)
    # From 0..1 of the portrait to 0..1 of the picture with margin: share * turn @ (p - 1/2) + c.
    share = one / MARGIN
    turn, shift = 0 * one, torch.full((count, 2), 0.5, device=device)
    elevation, scale = samples.elevation[rows], samples.scale[rows]
    if jitter:
        share = share * _uniform(pictures, 0.87, 1.15)
        turn = _uniform(pictures, -0.03, 0.03)
        shift = shift + _uniform(pictures, -0.05, 0.05, 2)
        elevation = elevation + ELEVATION_NOISE * torch.randn_like(one)
        scale = scale + SCALE_NOISE * torch.randn_like(one)
    cos, sin = torch.cos(turn), torch.sin(turn)
    matrix = share[:, None, None] * torch.stack(
        [torch.stack([cos, -sin], 1), torch.stack([sin, cos], 1)], 1
    )
    theta = torch.cat([matrix, (2 * shift - 1)[:, :, None]], dim=2)
    grid = functional.affine_grid(
        theta, [count, 3, RECTIFIED_PIXELS, RECTIFIED_PIXELS], align_corners=False
    )
    pictures = functional.grid_sample(pictures, grid, align_corners=False)
    points = (
        torch.einsum(
            "nij,nkj->nki", torch.linalg.inv(matrix), samples.points[rows] / SIZE - shift[:, None]
        )
        + 0.5
    )
    # A pixel of the portrait is this many of the picture with margin.
    scale = scale + torch.log(share * SIZE / RECTIFIED_PIXELS)
    targets, joints = samples.targets[rows], samples.joints[rows]
    flipped = points[:, torch.from_numpy(_SWAPPED_POINTS).to(device)] * points.new_tensor(
        [-1.0, 1.0]
    ) + points.new_tensor([1.0, 0.0])
    points = torch.where(mirrored[:, None, None], flipped, points)
    targets = targets.clone()
    of_mirror = targets[:, torch.from_numpy(MIRROR_ORDER).to(device)] * torch.from_numpy(
        MIRROR_SIGNS.astype(np.float32)
    ).to(device)
    targets = torch.where(mirrored[:, None], of_mirror, targets)
    targets[:, 4:8] = points[:, JOINTS:].flatten(1)
    other = joints[:, torch.from_numpy(_SWAPPED_JOINTS).to(device)] * joints.new_tensor(
        [-1.0, 1.0, 1.0]
    )
    joints = torch.where(mirrored[:, None, None], other, joints)
    pictures = torch.where(mirrored[:, None, None, None], pictures.flip(3), pictures)
    return Batch(pictures, geometry_of(elevation, scale), points, joints, targets)


def _softened(pictures: Tensor, rng: np.random.Generator) -> Tensor:
    """Blur some pictures, along a line or all round, and take the resolution of others."""
    deviation = rng.uniform(0.5, 2.2)
    places = torch.arange(-5, 6, device=pictures.device)
    kernel = torch.exp(-0.5 * (places / deviation) ** 2)
    kernel = (kernel / kernel.sum()).expand(3, 1, 1, 11)
    across = functional.conv2d(pictures, kernel, padding=(0, 5), groups=3)
    blurred = functional.conv2d(across, kernel.transpose(2, 3), padding=(5, 0), groups=3)
    size = int(rng.integers(56, 200))
    coarse = functional.interpolate(pictures, (size, size), mode="area")
    coarse = functional.interpolate(coarse, pictures.shape[2:], mode="bilinear")
    pictures = torch.where(_chosen(pictures, 0.2), blurred, pictures)
    pictures = torch.where(_chosen(pictures, 0.08), across, pictures)
    return torch.where(_chosen(pictures, 0.25), coarse, pictures)


def _recoloured(pictures: Tensor) -> Tensor:
    """Change brightness, contrast, white balance, hue and gamma; take the colour of some."""
    gains = torch.exp(_uniform(pictures, -0.45, 0.45, 1, 1, 1)) * _uniform(
        pictures, 0.8, 1.2, 3, 1, 1
    )
    middle = pictures.mean(dim=(1, 2, 3), keepdim=True)
    contrast = _uniform(pictures, 0.6, 1.4, 1, 1, 1)
    changed = ((pictures - middle) * contrast + middle) * gains
    # Mixed channels turn clothes, floors and skin to colours that were never rendered.
    mix = torch.eye(3, device=pictures.device) + 0.35 * torch.randn(
        len(pictures), 3, 3, device=pictures.device
    )
    mix = mix / mix.sum(dim=2, keepdim=True).abs().clamp(min=0.5)
    mixed = torch.einsum("nij,njhw->nihw", mix, changed)
    changed = torch.where(_chosen(pictures, 0.4), mixed, changed)
    changed = changed.clamp(1e-3, 1.0) ** torch.exp(_uniform(pictures, -0.4, 0.4, 1, 1, 1))
    grey = changed.mean(dim=1, keepdim=True).expand_as(changed)
    return torch.where(_chosen(pictures, 0.12), grey, changed)


def _covered(pictures: Tensor) -> Tensor:
    """Cover a rectangle of some pictures with one colour or a piece of another picture."""
    places = (torch.arange(pictures.shape[2], device=pictures.device) + 0.5) / pictures.shape[2]
    inside = [
        (places - _uniform(pictures, 0, 1, 1)).abs() < _uniform(pictures, 0.04, 0.16, 1)
        for _ in range(2)
    ]
    cover = inside[0][:, None, :, None] & inside[1][:, None, None, :]
    filling = torch.where(
        _chosen(pictures, 0.5), _uniform(pictures, 0, 1, 3, 1, 1), pictures.roll(1, 0).roll(96, 3)
    )
    return torch.where(cover & _chosen(pictures, 0.35), filling, pictures)


def _shaded(pictures: Tensor) -> Tensor:
    """Let light and colour vary over some pictures, as other halls and other cameras do."""
    field = torch.randn(len(pictures), 3, 6, 6, device=pictures.device)
    field = functional.interpolate(field, pictures.shape[2:], mode="bicubic", align_corners=False)
    return torch.where(
        _chosen(pictures, 0.4),
        pictures * torch.exp(_uniform(pictures, 0, 0.3, 1, 1, 1) * field),
        pictures,
    )


def augmented(pictures: Tensor, rng: np.random.Generator) -> Tensor:
    """Change pictures (batch, 3, 256, 256) in what does not change where the player faces."""
    pictures = _covered(_recoloured(_shaded(_softened(pictures, rng))))
    noise = torch.randn_like(pictures) * _uniform(pictures, 0.0, 0.06, 1, 1, 1)
    return (pictures + noise).clamp(0.0, 1.0)


def torch_errors(said: Tensor, true: Tensor) -> Tensor:
    """`stance.measures.orientation.errors_of`, through which gradients flow."""

    def turned(first: int) -> Tensor:
        a, b = said[:, first : first + 2], true[:, first : first + 2]
        # sin and cos of the angle between them.
        return torch.rad2deg(torch.atan2(a[:, 1] * b[:, 0] - a[:, 0] * b[:, 1], (a * b).sum(dim=1)))

    feet = (said - true)[:, 4:8] * RECTIFIED_PIXELS
    line, base = feet[:, 2:] - feet[:, :2], (feet[:, 2:] + feet[:, :2]) / 2
    knees = torch.rad2deg(said - true)[:, 8:10]
    return torch.cat([turned(0)[:, None], turned(2)[:, None], line, base, knees], dim=1)


def told_loss(said: Tensor, log_errors: Tensor, true: Tensor) -> Tensor:
    """Return how unlikely the errors are under Laplace's law, and how large the rest is."""
    # Laplace's law has the standard deviation sqrt(2) times its scale.
    scale = log_errors.clamp(-3.0, 5.0) - 0.5 * float(np.log(2.0))
    unlikely = torch_errors(said, true).abs() * torch.exp(-scale) + scale
    weights = said.new_tensor(ERROR_WEIGHTS)
    lines = functional.smooth_l1_loss(said[:, :4], true[:, :4])
    lengths = functional.smooth_l1_loss(10.0 * said[:, 10:], 10.0 * true[:, 10:])
    return (unlikely * weights).mean() / weights.mean() + 2.0 * lines + 0.5 * lengths


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
        said, points, joints = model.read(tensors[model.map], tensors[model.detail], batch.geometry)
        said = with_feet(said, points)
        off = (points - batch.points).abs().mean()
        deep = functional.smooth_l1_loss(10 * joints, 10 * batch.joints.flatten(1))
        return (
            told_loss(said[:, : len(TARGETS)], said[:, len(TARGETS) :], batch.targets)
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
        kept = min(AVERAGING, (1 + self.steps) / (10 + self.steps))
        with torch.no_grad():
            torch._foreach_lerp_(
                list(self.averaged.parameters()), list(self.model.parameters()), 1.0 - kept
            )
        return loss.detach()


@torch.no_grad()
def told(model: Reader, samples: Samples) -> tuple[np.ndarray, np.ndarray]:
    """Return what a model says of each portrait and of its mirror image, and what is true.

    Returns
    -------
    (stills, 2, targets + errors), both as of the portrait; (stills, targets)
    """
    flags = torch.backends.cudnn
    kept = flags.allow_tf32, flags.benchmark
    flags.allow_tf32, flags.benchmark = False, False
    said, true = [], []
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
        sides[1] = mirrored_back(sides[1])
        said.append(np.stack(sides, axis=1))
    flags.allow_tf32, flags.benchmark = kept
    return np.concatenate(said), np.concatenate(true)


def print_errors(said: np.ndarray, true: np.ndarray, view: np.ndarray) -> float:
    """Print errors on stills; return the mean absolute error of the hips, degrees."""
    from stance.measures.orientation import errors_of

    count = len(TARGETS)
    single = np.abs(errors_of(said[:, 0, :count], true))[:, 0].mean()
    errors = errors_of(said[..., :count].mean(axis=1), true)
    inside = (np.abs(errors) < 1.96 * np.exp(said[..., count:].mean(axis=1))).mean(axis=0)
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
    said = (sides[0] + mirrored_back(sides[1])) / 2
    lines = []
    for camera in np.unique(recording.camera):
        rows = recording.camera == camera
        words = [f"camera {camera}"]
        for part, name in enumerate(("hips", "shoulders")):
            pair = said[rows, 2 * part : 2 * part + 2]
            court = np.einsum("ni,nij->nj", pair, recording.axes[rows])
            off = np.degrees(np.arctan2(court[:, 1], court[:, 0])) - recording.reference[rows, part]
            off = (off + 180.0) % 360.0 - 180.0
            words.append(f"{name} {np.abs(off).mean():5.2f} (bias {off.mean():6.2f})")
        lines.append(" ".join(words))
    print("  real: " + " | ".join(lines), flush=True)


def write_onnx(model: Reader, path: Path, sample: Tensor) -> None:
    """Write the reader as ONNX; print how far OpenCV's answer is from it."""
    model = copy.deepcopy(model).cpu().eval()
    picture = sample.cpu()
    geometry = torch.tensor([[0.3, 0.1, 0.05]])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        torch.onnx.export(
            model,
            (picture, geometry),
            str(path),
            input_names=["portrait", "geometry"],
            output_names=["said"],
            opset_version=13,
            dynamo=False,
        )
    network = cv2.dnn.readNetFromONNX(str(path))
    network.setInput(picture.numpy(), "portrait")
    network.setInput(geometry.numpy(), "geometry")
    with torch.no_grad():
        off = np.abs(network.forward() - model(picture, geometry).numpy()).max()
    print(f"  {path}: OpenCV {cv2.__version__} is off by {off:.2g}", flush=True)


def train(
    graph: Graph,
    source: Path,
    tests: dict[str, Samples],
    recording: Recording | None,
    seconds: float,
    every: float,
    folder: Path,
    weights: Path | None = None,
) -> None:
    """Train for a time; write the averaged weights, and what they say of the test samples.

    Parameters
    ----------
    source : folder of portraits to train on; those that come while training runs are taken in
    seconds : all in all
    every : seconds between tests, and between looks for more portraits
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
        kept = torch.load(weights, map_location=device, weights_only=True)
        model.load_state_dict(kept)
        trainer.averaged.load_state_dict(kept)
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
                f"{now - start:.0f} s, {len(trainer.samples.row)} portraits, {trainer.steps} "
                f"steps ({trainer.lost} lost), loss "
                f"{torch.stack(losses).mean():.3f}",
                flush=True,
            )
            losses.clear()
            _test(trainer.averaged, {k: v for k, v in tests.items() if k == "tune"}, recording)
    folder.mkdir(parents=True, exist_ok=True)
    print(f"end, {trainer.steps} steps ({trainer.lost} lost)", flush=True)
    np.savez(folder / "said.npz", **_test(trainer.averaged, tests, recording))
    torch.save(trainer.averaged.state_dict(), folder / "weights.pt")
    sample = batch_of(samples, some[:1], some[:1] < 0, jitter=False).pictures
    write_onnx(trainer.averaged, folder / "orientation.onnx", sample)


def _test(
    model: Reader, tests: dict[str, Samples], recording: Recording | None
) -> dict[str, np.ndarray]:
    """Print errors on every test; return what is said and true."""
    found = {}
    for name, samples in tests.items():
        print(f" {name}", flush=True)
        said, true = told(model, samples)
        print_errors(said, true, samples.view)
        found |= {
            f"{name} said": said,
            f"{name} true": true,
            f"{name} view": samples.view,
            f"{name} elevation": samples.elevation.cpu().numpy(),
            f"{name} scale": samples.scale.cpu().numpy(),
        }
    if recording is not None:
        print_recording(model, recording)
    return found
