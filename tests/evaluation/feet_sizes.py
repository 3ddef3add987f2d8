"""What the standard errors of the feet's measures are made of."""

from typing import Any

import numpy as np

from stance.court.camera import Camera
from stance.measures.network_outputs import distance_apart, own_errors
from stance.measures.orientation import Observation, OrientationNetwork
from stance.measures.stance_measures import measure
from stance.types import FloatArray, Hand


class KeptReadings(OrientationNetwork):
    """The network, keeping its two last readings."""

    def __init__(self) -> None:
        super().__init__()
        self.readings = np.empty(0)

    def read_twice(self, *arguments: Any) -> FloatArray:
        """Read as the network does."""
        self.readings = super().read_twice(*arguments)
        return self.readings


def feet_sizes(
    camera: Camera, observation: Observation, readings: FloatArray, hand: Hand
) -> FloatArray:
    """Standard errors of lead angle and stagger by what the network predicts alone, and by how far
    its two readings are apart alone: (2 measures, 2), degrees and metres."""
    sizes = []
    for errors in (own_errors(readings), distance_apart(readings)):
        found = measure(
            camera, Observation(observation.pose, observation.predictions, errors), hand
        )
        assert found is not None
        sizes.append((found.lead_angle[1], found.foot_stagger[1]))
    return np.array(sizes).T
