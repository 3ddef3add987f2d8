"""A network read from a .tflite file as a PyTorch module that can be trained on."""

from collections.abc import Iterable

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional

from tests.training.tflite import Graph, Operation


class Network(nn.Module):
    """Operations of a network with trainable weights; pictures are (batch, channels, h, w).

    Parameters
    ----------
    graph : Graph
    operations : those to run, in order
    """

    def __init__(self, graph: Graph, operations: Iterable[Operation]) -> None:
        super().__init__()
        self.operations = tuple(operations)
        self.values = nn.ParameterDict(
            {
                str(i): nn.Parameter(torch.from_numpy(graph.weights[i].astype(np.float32)))
                for operation in self.operations
                for i in operation.weights
            }
        )

    def forward(self, tensors: dict[int, Tensor]) -> dict[int, Tensor]:
        """Run the operations on tensors that are there; return these and all that came of them."""
        tensors = dict(tensors)
        for operation in self.operations:
            tensors[operation.output] = self._run(operation, [tensors[i] for i in operation.inputs])
        return tensors

    def _run(self, operation: Operation, inputs: list[Tensor]) -> Tensor:
        first = inputs[0]
        kind = operation.kind
        if kind in ("CONV_2D", "DEPTHWISE_CONV_2D"):
            weights, biases = (self.values[str(i)] for i in operation.weights)
            found = self._convolved(operation, first, weights, biases)
        elif kind == "ADD":
            found = first + inputs[1]
        elif kind == "MAX_POOL_2D":
            found = functional.max_pool2d(
                _padded(first, operation, -torch.inf), operation.window, operation.stride
            )
        elif kind == "PAD":
            height, width, channels = operation.pads
            found = functional.pad(first, (*width, *height, *channels))
        elif kind == "RESIZE_BILINEAR":
            found = _resized(operation, first)
        elif kind == "RESHAPE":
            found = first.flatten(1)
        else:
            found = torch.sigmoid(first)
        if operation.activation == "relu":
            return functional.relu(found)
        return functional.relu6(found) if operation.activation == "relu6" else found

    @staticmethod
    def _convolved(operation: Operation, values: Tensor, weights: Tensor, biases: Tensor) -> Tensor:
        groups = weights.shape[0] if operation.kind == "DEPTHWISE_CONV_2D" else 1
        pads = [
            _same_pads(size, window, stride) if operation.same else (0, 0)
            for size, window, stride in zip(
                values.shape[2:], operation.window, operation.stride, strict=True
            )
        ]
        if all(before == after for before, after in pads):
            padding = (pads[0][0], pads[1][0])
        else:
            values, padding = functional.pad(values, (*pads[1], *pads[0])), (0, 0)
        return functional.conv2d(values, weights, biases, operation.stride, padding, groups=groups)


def _same_pads(size: int, window: int, stride: int) -> tuple[int, int]:
    """How much TFLite's SAME pads before and after; more after where it is odd."""
    total = max((-(-size // stride) - 1) * stride + window - size, 0)
    return total // 2, total - total // 2


def _padded(values: Tensor, operation: Operation, filling: float) -> Tensor:
    if not operation.same:
        return values
    pads = [
        _same_pads(size, window, stride)
        for size, window, stride in zip(
            values.shape[2:], operation.window, operation.stride, strict=True
        )
    ]
    if not any(any(p) for p in pads):
        return values
    return functional.pad(values, (*pads[1], *pads[0]), value=filling)


def _resized(operation: Operation, values: Tensor) -> Tensor:
    """Resize as TFLite does; without either flag its pixels are laid corner on corner."""
    if operation.align_corners or operation.half_pixel_centers:
        return functional.interpolate(
            values, operation.size, mode="bilinear", align_corners=operation.align_corners
        )
    height, width = operation.size
    scales = [old / new for old, new in zip(values.shape[2:], operation.size, strict=True)]
    for axis, (count, scale) in enumerate(zip((height, width), scales, strict=True), start=2):
        places = torch.arange(count, device=values.device) * scale
        low = places.floor().long()
        high = (low + 1).clamp(max=values.shape[axis] - 1)
        share = (places - low).to(values.dtype)
        share = share[:, None] if axis == 2 else share
        values = (
            values.index_select(axis, low) * (1 - share) + values.index_select(axis, high) * share
        )
    return values
