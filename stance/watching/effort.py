"""How much of a clip is observed: how often, with which pose model, how closely."""

from dataclasses import dataclass

import numpy as np

from stance.runtime.model_files import Model


@dataclass(frozen=True)
class Effort:
    """How much is observed; an observation is one use of the pose model on a player in a frame.

    Attributes
    ----------
    model
        pose model that tracks the players
    rate
        observations a second while tracking; None for every frame
    dense_rate
        observations a second where somebody settles or leaves
    observations, most_observations
        close observations of a waiting spell: at first, and at most
    scatter_deg
        close observations go on until the part of the measures' standard error that comes from
        their scatter is below, degrees
    """

    model: Model = "full"
    rate: float | None = 7.5
    dense_rate: float = 30.0
    observations: int = 2
    most_observations: int = 5
    scatter_deg: float = 1.0


QUICK = Effort()

# The heavy model on every frame, for comparison.
THOROUGH = Effort("heavy", None, np.inf, 1000, 1000)
