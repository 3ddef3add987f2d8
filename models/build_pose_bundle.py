"""Build a pose landmarker bundle (.task) from two published model files; see README.md here.

Usage: python models/build_pose_bundle.py DETECTOR.tflite LANDMARKS.tflite OUT.task

The Tasks API wants normalisation metadata that the published .tflite files
lack; this writes it with the flatbuffers schema that the mediapipe wheel
carries (tried with mediapipe 0.10.32 and numpy 2).
"""
import sys
import zipfile
from pathlib import Path

import flatbuffers
from mediapipe.tasks.metadata import metadata_schema_py_generated as meta
from mediapipe.tasks.metadata import schema_py_generated as tfl


def with_normalisation(model_path: str, mean: float, std: float) -> bytes:
    """Return the model's bytes with image metadata: (pixel - mean) / std."""
    data = bytearray(Path(model_path).read_bytes())
    model = tfl.ModelT.InitFromObj(tfl.Model.GetRootAsModel(data, 0))

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
            ("pose_detector.tflite", detector, 127.5, 127.5),
            ("pose_landmarks_detector.tflite", landmarks, 0.0, 255.0),
        ):
            # A fixed date keeps the bundle's checksum the same from run to run.
            entry = zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))
            bundle.writestr(entry, with_normalisation(model, mean, std))
