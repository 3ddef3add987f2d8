"""Batches of crops, cut out of those with a margin, mirrored and shifted."""

from dataclasses import dataclass

import numpy as np
import torch
from torch import Tensor
from torch.nn import functional

from stance.measures.network_outputs import MIRROR_ORDER, MIRROR_SIGNS
from stance.measures.rectified_crop import RECTIFIED_PIXELS
from tests.rendering.skeleton import JOINT_NAMES
from tests.training.augmentation import uniform
from tests.training.crops import MARGIN, SIZE
from tests.training.samples import Samples

BATCH = 256
JOINTS = len(JOINT_NAMES)
# How unsure the geometry of a calibrated phone is: radians of elevation, share of the scale.
ELEVATION_NOISE = 0.012
SCALE_NOISE = 0.04
_LEFT, _RIGHT = (
    np.array([i for i, name in enumerate(JOINT_NAMES) if name.startswith(side)])
    for side in ("left", "right")
)
_SWAPPED_JOINTS = np.arange(JOINTS)
_SWAPPED_JOINTS[_LEFT], _SWAPPED_JOINTS[_RIGHT] = _RIGHT, _LEFT
_SWAPPED_POINTS = np.concatenate([_SWAPPED_JOINTS, [JOINTS + 1, JOINTS]])


@dataclass(frozen=True)
class Batch:
    """What one step learns from; points in 0..1 of the crop."""

    pictures: Tensor
    geometry: Tensor
    points: Tensor
    joints: Tensor
    targets: Tensor


def batch_of(samples: Samples, rows: Tensor, mirrored: Tensor, jitter: bool) -> Batch:
    """Cut crops out of those with margin, mirrored and shifted as asked.

    Parameters
    ----------
    rows : (batch,) stills
    mirrored : (batch,) bool
    jitter : shift, scale and turn a little, and disturb the geometry
    """
    pictures = samples.pictures[rows].permute(0, 3, 1, 2).float() / 255.0
    device = pictures.device
    count = len(rows)
    ones = torch.ones(count, device=device)
    # From 0..1 of the crop to 0..1 of the picture with margin: share * turn @ (p - 1/2) + c.
    share = ones / MARGIN
    turn, shift = 0 * ones, torch.full((count, 2), 0.5, device=device)
    elevation, scale = samples.elevation[rows], samples.scale[rows]
    if jitter:
        share = share * uniform(pictures, 0.87, 1.15)
        turn = uniform(pictures, -0.03, 0.03)
        shift = shift + uniform(pictures, -0.05, 0.05, 2)
        elevation = elevation + ELEVATION_NOISE * torch.randn_like(ones)
        scale = scale + SCALE_NOISE * torch.randn_like(ones)
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
    # A pixel of the crop is this many of the picture with margin.
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


def geometry_of(elevation: Tensor, scale: Tensor) -> Tensor:
    """(batch, 3) what the network is predict of the view; see `stance.measures.orientation`."""
    return torch.stack(
        [2.0 * torch.sin(elevation), 2.0 * (scale + 4.7), torch.exp(scale + 4.7) - 1.0], dim=1
    )
