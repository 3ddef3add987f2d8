"""A .tflite network as a plain file, and as a PyTorch module that can be trained on.

`python -m tests.training.tflite NETWORK.tflite GRAPH.npz` writes the plain file: the operations as
JSON beside their weights. Reading it needs numpy and PyTorch only.
"""

import importlib
import json
import sys
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional

# Of TFLite's activation functions, those that occur.
_ACTIVATIONS = {0: "none", 1: "relu", 3: "relu6"}
_SAME_PADDING = 0


@dataclass(frozen=True)
class Operation:
    """One operation of a network; sizes are (height, width).

    Attributes
    ----------
    kind : TFLite's name of the operation
    name : TFLite's name of what it gives
    inputs, output : numbers of the tensors it takes and gives
    weights : numbers of its weights and biases in the file
    activation : "none", "relu" or "relu6"
    stride, window : of convolutions and pooling
    same : whether a convolution or pooling pads as TFLite's SAME
    pads : ((before, after) of height, of width, of channels) of PAD
    size : (height, width) that RESIZE_BILINEAR gives
    align_corners, half_pixel_centers : how RESIZE_BILINEAR lays the pixels
    """

    kind: str
    name: str
    inputs: tuple[int, ...]
    output: int
    weights: tuple[int, ...] = ()
    activation: str = "none"
    stride: tuple[int, int] = (1, 1)
    window: tuple[int, int] = (1, 1)
    same: bool = False
    pads: tuple[tuple[int, int], ...] = ()
    size: tuple[int, int] = (0, 0)
    align_corners: bool = False
    half_pixel_centers: bool = False


@dataclass(frozen=True)
class Graph:
    """A network: operations in an order in which they can run, one input, named outputs.

    Attributes
    ----------
    operations : tuple of Operation
    input : number of the input tensor
    outputs : the network's outputs: TFLite's name -> number of the tensor
    weights : number -> weights, as PyTorch lays them: (out, in, height, width) or (out,)
    """

    operations: tuple[Operation, ...]
    input: int
    outputs: dict[str, int]
    weights: dict[int, np.ndarray]

    def producing(self, layer: str) -> Operation:
        """Return the operation that is the network's layer of this name."""
        return next(o for o in self.operations if f"/{layer}/" in o.name)

    def needed_for(self, tensors: Iterable[int]) -> list[Operation]:
        """Return the operations on which tensors rest, in order."""
        wanted, found = set(tensors), []
        for operation in reversed(self.operations):
            if operation.output in wanted:
                wanted.update(operation.inputs)
                found.append(operation)
        return found[::-1]


def read_tflite(path: Path) -> Graph:
    """Read a .tflite file; needs mediapipe, which carries the format's schema.

    Raises
    ------
    ValueError
        If the network holds an operation or activation that is not known here.
    """
    schema = importlib.import_module("mediapipe.tasks.metadata.schema_py_generated")
    model = schema.ModelT.InitFromObj(schema.Model.GetRootAsModel(path.read_bytes(), 0))
    names = {
        value: name
        for name, value in vars(schema.BuiltinOperator).items()
        if isinstance(value, int)
    }
    kinds = [names[max(c.builtinCode, c.deprecatedBuiltinCode)] for c in model.operatorCodes]
    part = model.subgraphs[0]
    # Weights are kept in half precision and dequantized by an operation of their own.
    source = {
        o.outputs[0]: o.inputs[0] for o in part.operators if kinds[o.opcodeIndex] == "DEQUANTIZE"
    }
    types = {
        schema.TensorType.FLOAT32: np.float32,
        schema.TensorType.FLOAT16: np.float16,
        schema.TensorType.INT32: np.int32,
    }

    def constant(number: int) -> np.ndarray:
        tensor = part.tensors[source.get(number, number)]
        data = np.asarray(model.buffers[tensor.buffer].data, np.uint8)
        return data.view(types[tensor.type]).reshape(tensor.shape)

    operations: list[Operation] = []
    weights: dict[int, np.ndarray] = {}
    for operator in part.operators:
        kind = kinds[operator.opcodeIndex]
        if kind == "DEQUANTIZE":
            continue
        output = int(operator.outputs[0])
        name = part.tensors[output].name.decode()
        own = [int(i) for i in operator.inputs]
        settings, options = {}, operator.builtinOptions
        if kind in ("CONV_2D", "DEPTHWISE_CONV_2D"):
            own, constants = own[:1], own[1:]
            # TFLite: (out, height, width, in), depthwise (1, height, width, out).
            order = (0, 3, 1, 2) if kind == "CONV_2D" else (3, 0, 1, 2)
            weights[constants[0]] = np.ascontiguousarray(constant(constants[0]).transpose(order))
            weights[constants[1]] = constant(constants[1])
            settings = {"weights": tuple(constants), "window": weights[constants[0]].shape[2:]}
            if options.dilationHFactor != 1 or options.dilationWFactor != 1:
                raise ValueError(f"{name} is dilated, which is not known here")
        elif kind == "MAX_POOL_2D":
            settings = {"window": (options.filterHeight, options.filterWidth)}
        elif kind == "PAD":
            own, pads = own[:1], constant(own[1]).tolist()
            settings = {"pads": tuple(tuple(p) for p in pads[1:])}
        elif kind == "RESIZE_BILINEAR":
            own, size = own[:1], constant(own[1]).tolist()
            settings = {
                "size": tuple(size),
                "align_corners": bool(options.alignCorners),
                "half_pixel_centers": bool(options.halfPixelCenters),
            }
        elif kind == "RESHAPE":
            own = own[:1]
        elif kind not in ("ADD", "LOGISTIC"):
            raise ValueError(f"{name} is a {kind}, which is not known here")
        if kind in ("CONV_2D", "DEPTHWISE_CONV_2D", "MAX_POOL_2D"):
            settings |= {
                "stride": (options.strideH, options.strideW),
                "same": options.padding == _SAME_PADDING,
            }
        if hasattr(options, "fusedActivationFunction"):
            settings["activation"] = _ACTIVATIONS[options.fusedActivationFunction]
        operations.append(Operation(kind, name, tuple(own), output, **settings))
    outputs = {part.tensors[i].name.decode(): int(i) for i in part.outputs}
    return Graph(tuple(operations), int(part.inputs[0]), outputs, weights)


def save_graph(path: Path, graph: Graph) -> None:
    """Write a network as a plain .npz file, the weights in the precision they came in."""
    text = json.dumps(
        {
            "operations": [asdict(o) for o in graph.operations],
            "input": graph.input,
            "outputs": graph.outputs,
        },
        default=int,
    )
    np.savez_compressed(
        path, graph=np.array(text), **{f"weights {i}": w for i, w in graph.weights.items()}
    )


def load_graph(path: Path) -> Graph:
    """Read what `save_graph` wrote."""
    with np.load(path, allow_pickle=False) as file:
        parts = json.loads(str(file["graph"]))
        weights = {int(name.split()[1]): file[name] for name in file.files if name != "graph"}
    operations = []
    for entry in parts["operations"]:
        lists = {name: tuple(value) for name, value in entry.items() if isinstance(value, list)}
        operations.append(Operation(**(entry | lists)))
    return Graph(tuple(operations), parts["input"], parts["outputs"], weights)


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


def main() -> None:
    """Write a .tflite file as a plain file."""
    source, target = (Path(argument) for argument in sys.argv[1:])
    save_graph(target, read_tflite(source))


if __name__ == "__main__":
    main()
