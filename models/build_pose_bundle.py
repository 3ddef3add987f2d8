"""Build a pose landmarker bundle (.task) from two published model files; see README.md here.

Usage: python models/build_pose_bundle.py DETECTOR.tflite LANDMARKS.tflite OUT.task

The Tasks API wants normalisation metadata that the published .tflite files
lack; this writes it with the flatbuffers schema that the mediapipe wheel
carries (tried with mediapipe 0.10.32 and numpy 2). The landmark network also
computes a mask of the person, which nobody looks at and which takes a quarter
of the time; those operations are left out, and the input's first colour stands
where the mask would be.
"""

import struct
import sys
import zipfile
from pathlib import Path

import flatbuffers
from mediapipe.tasks.metadata import metadata_schema_py_generated as meta
from mediapipe.tasks.metadata import schema_py_generated as tfl

MASK_SHAPE = [1, 256, 256, 1]


def read_model(path: str) -> tfl.ModelT:
    """Read a .tflite file."""
    return tfl.ModelT.InitFromObj(tfl.Model.GetRootAsModel(bytearray(Path(path).read_bytes()), 0))


def without_mask(model: tfl.ModelT) -> tfl.ModelT:
    """Leave out the operations that serve the person's mask alone."""
    graph = model.subgraphs[0]
    mask = next(i for i in graph.outputs if list(graph.tensors[i].shape) == MASK_SHAPE)
    wanted = {int(i) for i in graph.outputs if i != mask}
    kept: list[tfl.OperatorT] = []
    for operation in reversed(graph.operators):
        if wanted.intersection(map(int, operation.outputs)):
            wanted.update(map(int, operation.inputs))
            kept.insert(0, operation)
    first_colour = tfl.OperatorT()
    first_colour.opcodeIndex = len(model.operatorCodes)
    first_colour.inputs = [
        int(graph.inputs[0]),
        _constant(model, "begin", [0, 0, 0, 0]),
        _constant(model, "size", MASK_SHAPE),
    ]
    first_colour.outputs = [int(mask)]
    first_colour.builtinOptionsType = tfl.BuiltinOptions.SliceOptions
    first_colour.builtinOptions = tfl.SliceOptionsT()
    code = tfl.OperatorCodeT()
    code.builtinCode = code.deprecatedBuiltinCode = tfl.BuiltinOperator.SLICE
    model.operatorCodes.append(code)
    graph.operators = [*kept, first_colour]
    used = {graph.tensors[i].buffer for operation in graph.operators for i in operation.inputs}
    for number, buffer in enumerate(model.buffers):
        if number not in used:
            buffer.data = None
    return model


def _constant(model: tfl.ModelT, name: str, values: list[int]) -> int:
    """Add a tensor of whole numbers to a model and return its number."""
    buffer = tfl.BufferT()
    buffer.data = list(struct.pack(f"<{len(values)}i", *values))
    model.buffers.append(buffer)
    tensor = tfl.TensorT()
    tensor.name, tensor.shape, tensor.type = name, [len(values)], tfl.TensorType.INT32
    tensor.buffer = len(model.buffers) - 1
    model.subgraphs[0].tensors.append(tensor)
    return len(model.subgraphs[0].tensors) - 1


def with_normalisation(model: tfl.ModelT, mean: float, std: float) -> bytes:
    """Return the model's bytes with image metadata: (pixel - mean) / std."""
    image = meta.ImagePropertiesT()
    image.colorSpace = meta.ColorSpaceType.RGB
    content = meta.ContentT()
    content.contentPropertiesType = meta.ContentProperties.ImageProperties
    content.contentProperties = image
    options = meta.NormalizationOptionsT()
    options.mean, options.std = [mean], [std]
    unit = meta.ProcessUnitT()
    unit.optionsType = meta.ProcessUnitOptions.NormalizationOptions
    unit.options = options
    tensor = meta.TensorMetadataT()
    tensor.name, tensor.content, tensor.processUnits = "image", content, [unit]
    graph = meta.SubGraphMetadataT()
    graph.inputTensorMetadata = [tensor]
    graph.outputTensorMetadata = [meta.TensorMetadataT() for _ in model.subgraphs[0].outputs]
    root = meta.ModelMetadataT()
    root.name, root.subgraphMetadata = "pose", [graph]
    builder = flatbuffers.Builder(0)
    builder.Finish(root.Pack(builder), b"M001")

    buffer = tfl.BufferT()
    buffer.data = list(bytes(builder.Output()))
    model.buffers.append(buffer)
    entry = tfl.MetadataT()
    entry.name, entry.buffer = "TFLITE_METADATA", len(model.buffers) - 1
    model.metadata = [m for m in model.metadata or [] if m.name != b"TFLITE_METADATA"] + [entry]
    builder = flatbuffers.Builder(0)
    builder.Finish(model.Pack(builder), b"TFL3")
    return bytes(builder.Output())


if __name__ == "__main__":
    detector, landmarks, out = sys.argv[1:4]
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as bundle:
        for name, model, mean, std in (
            ("pose_detector.tflite", read_model(detector), 127.5, 127.5),
            ("pose_landmarks_detector.tflite", without_mask(read_model(landmarks)), 0.0, 255.0),
        ):
            # A fixed date keeps the bundle's checksum the same from run to run.
            entry = zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))
            bundle.writestr(entry, with_normalisation(model, mean, std))
