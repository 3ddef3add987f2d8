"""How much of a clip is looked at."""

from dataclasses import dataclass

import numpy as np

from stance.runtime.model_files import Model


@dataclass(frozen=True)
class Effort:
    """How much is looked at.

    Attributes
    ----------
    model : pose model that follows the players
    rate : looks a second while following; None for every frame
    dense_rate : looks a second where somebody settles or leaves
    looks, most_looks : close looks at a spell: at first, and at most
    scatter_deg : close looks go on until the scatter's part of the standard error is below
    """

    model: Model = "full"
    rate: float | None = 7.5
    dense_rate: float = 30.0
    looks: int = 2
    most_looks: int = 5
    scatter_deg: float = 1.0


QUICK = Effort()

# The heavy model on every frame, for comparison.
THOROUGH = Effort("heavy", None, np.inf, 1000, 1000)
