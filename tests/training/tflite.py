"""A .tflite network as a plain file.

`python -m tests.training.tflite NETWORK.tflite GRAPH.npz` writes the plain file: the operations as
JSON beside their weights, which `graph_network` makes a PyTorch module of.
"""

import argparse
import importlib
import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

# Of TFLite's activation functions, those that occur.
_ACTIVATIONS = {0: "none", 1: "relu", 3: "relu6"}
_SAME_PADDING = 0
# How many of its inputs an operation computes with, where not one; the rest are constants.
_INPUTS = {"ADD": 2}


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
    file = _open_tflite(path)
    operations: list[Operation] = []
    weights: dict[int, np.ndarray] = {}
    for operator in file.part.operators:
        kind = file.kinds[operator.opcodeIndex]
        # A slice stands where the mask of the person was, see models/build_pose_bundle.py.
        if kind in ("DEQUANTIZE", "SLICE"):
            continue
        if kind in ("CONV_2D", "DEPTHWISE_CONV_2D"):
            weights |= _convolution_weights(file, kind, operator)
        output = int(operator.outputs[0])
        operations.append(
            Operation(
                kind,
                file.part.tensors[output].name.decode(),
                tuple(int(i) for i in operator.inputs[: _INPUTS.get(kind, 1)]),
                output,
                **_settings(file, kind, operator),
            )
        )
    made = {operation.output for operation in operations}
    outputs = {file.part.tensors[i].name.decode(): int(i) for i in file.part.outputs if i in made}
    return Graph(tuple(operations), int(file.part.inputs[0]), outputs, weights)


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


def main() -> None:
    """Write a .tflite file as a plain file."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.training.tflite", description=__doc__.split("\n\n")[0]
    )
    parser.add_argument("network", type=Path, help="NETWORK.tflite")
    parser.add_argument("graph", type=Path, help="GRAPH.npz to write")
    arguments = parser.parse_args()
    save_graph(arguments.graph, read_tflite(arguments.network))


@dataclass(frozen=True)
class _TfliteFile:
    """A .tflite file as its schema gives it: `kinds` names the operation codes."""

    model: Any
    part: Any
    kinds: list[str]
    types: dict[int, type]

    def constant(self, number: int) -> np.ndarray:
        """Return the values of a constant tensor."""
        # Weights are kept in half precision and dequantized by an operation of their own.
        source = {
            o.outputs[0]: o.inputs[0]
            for o in self.part.operators
            if self.kinds[o.opcodeIndex] == "DEQUANTIZE"
        }
        tensor = self.part.tensors[source.get(number, number)]
        data = np.asarray(self.model.buffers[tensor.buffer].data, np.uint8)
        return data.view(self.types[tensor.type]).reshape(tensor.shape)


def _open_tflite(path: Path) -> _TfliteFile:
    """Take a .tflite file apart."""
    schema = importlib.import_module("mediapipe.tasks.metadata.schema_py_generated")
    model = schema.ModelT.InitFromObj(schema.Model.GetRootAsModel(path.read_bytes(), 0))
    names = {
        value: name
        for name, value in vars(schema.BuiltinOperator).items()
        if isinstance(value, int)
    }
    return _TfliteFile(
        model,
        model.subgraphs[0],
        [names[max(c.builtinCode, c.deprecatedBuiltinCode)] for c in model.operatorCodes],
        {
            schema.TensorType.FLOAT32: np.float32,
            schema.TensorType.FLOAT16: np.float16,
            schema.TensorType.INT32: np.int32,
        },
    )


def _convolution_weights(file: _TfliteFile, kind: str, operator: Any) -> dict[int, np.ndarray]:
    """Weights and biases of a convolution, as PyTorch lays them."""
    weights, biases = (int(i) for i in operator.inputs[1:])
    # TFLite: (out, height, width, in), depthwise (1, height, width, out).
    order = (0, 3, 1, 2) if kind == "CONV_2D" else (3, 0, 1, 2)
    return {
        weights: np.ascontiguousarray(file.constant(weights).transpose(order)),
        biases: file.constant(biases),
    }


def _settings(file: _TfliteFile, kind: str, operator: Any) -> dict[str, Any]:
    """What an operation goes by, beside its inputs, as in `Operation`."""
    name = file.part.tensors[operator.outputs[0]].name.decode()
    options = operator.builtinOptions
    settings: dict[str, Any] = {}
    if kind in ("CONV_2D", "DEPTHWISE_CONV_2D"):
        if options.dilationHFactor != 1 or options.dilationWFactor != 1:
            raise ValueError(f"{name} is dilated, which is not known here")
        constants = tuple(int(i) for i in operator.inputs[1:])
        window = file.constant(constants[0]).shape[1:3]
        settings = {"weights": constants, "window": window}
    elif kind == "MAX_POOL_2D":
        settings = {"window": (options.filterHeight, options.filterWidth)}
    elif kind == "PAD":
        pads = file.constant(int(operator.inputs[1])).tolist()
        settings = {"pads": tuple(tuple(p) for p in pads[1:])}
    elif kind == "RESIZE_BILINEAR":
        settings = {
            "size": tuple(file.constant(int(operator.inputs[1])).tolist()),
            "align_corners": bool(options.alignCorners),
            "half_pixel_centers": bool(options.halfPixelCenters),
        }
    elif kind not in ("ADD", "LOGISTIC", "RESHAPE"):
        raise ValueError(f"{name} is a {kind}, which is not known here")
    if kind in ("CONV_2D", "DEPTHWISE_CONV_2D", "MAX_POOL_2D"):
        settings["stride"] = (options.strideH, options.strideW)
        settings["same"] = options.padding == _SAME_PADDING
    if hasattr(options, "fusedActivationFunction"):
        settings["activation"] = _ACTIVATIONS[options.fusedActivationFunction]
    return settings


if __name__ == "__main__":
    main()
