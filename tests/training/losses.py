"""What the network is trained to make small."""

import numpy as np
import torch
from torch import Tensor
from torch.nn import functional

from stance.measures.rectified_crop import RECTIFIED_PIXELS

ERROR_WEIGHTS = (3.0, 1.5, 1.5, 1.5, 1.0, 1.0, 0.7, 0.7)


def torch_errors(predicted: Tensor, true: Tensor) -> Tensor:
    """`tests.training.prediction_errors`, through which gradients flow."""

    def turned(first: int) -> Tensor:
        a, b = predicted[:, first : first + 2], true[:, first : first + 2]
        # sin and cos of the angle between them.
        return torch.rad2deg(torch.atan2(a[:, 1] * b[:, 0] - a[:, 0] * b[:, 1], (a * b).sum(dim=1)))

    feet = (predicted - true)[:, 4:8] * RECTIFIED_PIXELS
    line, base = feet[:, 2:] - feet[:, :2], (feet[:, 2:] + feet[:, :2]) / 2
    knees = torch.rad2deg(predicted - true)[:, 8:10]
    return torch.cat([turned(0)[:, None], turned(2)[:, None], line, base, knees], dim=1)


def prediction_loss(predicted: Tensor, log_errors: Tensor, true: Tensor) -> Tensor:
    """Return how unlikely the errors are under Laplace's law, and how large the rest is."""
    # Laplace's law has the standard deviation sqrt(2) times its scale.
    scale = log_errors.clamp(-3.0, 5.0) - 0.5 * float(np.log(2.0))
    unlikely = torch_errors(predicted, true).abs() * torch.exp(-scale) + scale
    weights = predicted.new_tensor(ERROR_WEIGHTS)
    lines = functional.smooth_l1_loss(predicted[:, :4], true[:, :4])
    lengths = functional.smooth_l1_loss(10.0 * predicted[:, 10:], 10.0 * true[:, 10:])
    return (unlikely * weights).mean() / weights.mean() + 2.0 * lines + 0.5 * lengths
