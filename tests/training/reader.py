"""The network that reads a player's rectified crop: the pose model's, with a head of our own.

Landmarks alone do not carry where the hips face; the picture does. A pose model's network,
trained on real people, is taken over; on its last maps sit heat maps of our own points (joints,
and the middles of the feet on the floor) and a small network that predicts directions, distances
and the logs of their standard errors. `stance.measures.orientation` runs the result.
"""

import copy
import warnings
from pathlib import Path

import cv2
import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional

from stance.measures.network_outputs import ERRORS, TARGETS
from tests.training.batches import JOINTS
from tests.training.graph_network import Network
from tests.training.tflite import Graph

LANDMARK_LAYER = "convld_3d"
# Heat maps of the network: 17 joints, left and right foot's middle on the floor.
KEYPOINTS = 19
# Operations of this share of the network stay as they are: edges and textures are known.
FROZEN_SHARE = 0.3
FIRST_LOG_ERROR = 2.0


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
        self.predictions = nn.Linear(256, len(TARGETS) + len(ERRORS))
        self.joints = nn.Linear(256, 3 * JOINTS)
        with torch.no_grad():
            self.predictions.bias[len(TARGETS) :] = FIRST_LOG_ERROR
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
        """From the maps to what is predicted.

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
        return self.predictions(values), points, self.joints(values)

    def forward(self, pictures: Tensor, geometry: Tensor) -> Tensor:
        """What is predicted, with the feet's places in 0..1 of the crop put together."""
        tensors = self.late(self.first_part(pictures))
        predicted, points, _ = self.read(tensors[self.map], tensors[self.detail], geometry)
        return with_feet(predicted, points)


def with_feet(predicted: Tensor, points: Tensor) -> Tensor:
    """Add the heat maps' feet to what was predicted of how far they are off."""
    feet = points[:, JOINTS:].flatten(1)
    return torch.cat([predicted[:, :4], predicted[:, 4:8] * 0.02 + feet, predicted[:, 8:]], dim=1)


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
            # The names that the network in models/ was written with.
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
