"""What a player's motion says about strokes: a small network over three seconds of it.

Of each moment it tells how likely it is that the player strikes, that the other side does (the
player hops and lands, sinks, stands still), or neither (`python -m tests.training strokes`,
models/README.md); two layers need no library to be evaluated. Three seconds hold the strokes before
and after as well: with one second, of rendered strokes faced 0.95 were found and not 0.96, of those
with nobody beyond the net 0.85 and not 0.88, and of real ones 0.94 and not 0.95.
"""

import io
from dataclasses import dataclass

import numpy as np
from threadpoolctl import threadpool_limits

from stance.runtime.model_files import network_bytes
from stance.types import FloatArray

NETWORK_FILE, CHECKSUM_FILE = "strokes.npz", "strokes.json"

_AFTER = (1, 2, 3, 5, 7, 10, 13, 16, 20, 25, 32, 38)
OFFSETS = (*(-offset for offset in reversed(_AFTER)), 0, *_AFTER)
"""Moments around each one that the network is shown: a second and a half to each side, the nearest
ones all. At 25 a second."""

_MOST_SPREADS = 4.0
"""Numbers further out than so many spreads are taken to be that far."""

_LEAST_PROBABILITY = 1e-4
"""No single network's word is taken to be surer than this."""


@dataclass(frozen=True)
class StrokeNetwork:
    """The network: several trained alike, whose probabilities are averaged.

    Attributes
    ----------
    centre, spread
        (inputs,) by which the inputs are scaled
    layers
        for each of the networks, weights (inputs, outputs) and biases of each layer
    """

    centre: FloatArray
    spread: FloatArray
    layers: tuple[tuple[tuple[FloatArray, FloatArray], ...], ...]

    def log_odds(self, motion: FloatArray) -> FloatArray:
        """Tell who strikes when, from the motion of one player.

        Parameters
        ----------
        motion
            (moments, numbers) as `describe_motion` gives it

        Returns
        -------
        (moments, 2): logarithm of the odds that the player strikes, and that the other side does,
        each against no stroke; NaN where the player is not seen
        """
        inputs = scale_inputs(stack_windows(motion), self.centre, self.spread)
        # Split over threads, a product's last digits depend on how many there are.
        with threadpool_limits(1, "blas"):
            mean = np.mean([_probabilities(inputs, layers) for layers in self.layers], axis=0)
        smooth = np.pad(mean, ((1, 1), (0, 0)), "edge")
        smooth = smooth[:-2] / 4.0 + smooth[1:-1] / 2.0 + smooth[2:] / 4.0
        logs = np.log(np.maximum(smooth, _LEAST_PROBABILITY))
        unseen = np.isnan(motion[:, 0])[:, None]
        return np.asarray(np.where(unseen, np.nan, logs[:, 1:] - logs[:, :1]))


def load_network() -> StrokeNetwork:
    """Load the network.

    Raises
    ------
    StanceError
        If its file is missing or damaged.
    """
    with np.load(io.BytesIO(network_bytes(NETWORK_FILE, CHECKSUM_FILE))) as arrays:

        def read(field: str) -> FloatArray:
            return np.asarray(arrays[field], float)

        layers = tuple(
            tuple(
                (read(f"weights_{net}_{layer}"), read(f"biases_{net}_{layer}"))
                for layer in range(int(arrays["layers"]))
            )
            for net in range(int(arrays["networks"]))
        )
        return StrokeNetwork(read("centre"), read("spread"), layers)


def stack_windows(motion: FloatArray) -> FloatArray:
    """Put the numbers of the moments around each moment beside each other.

    Parameters
    ----------
    motion
        (moments, numbers)

    Returns
    -------
    (moments, numbers of all `OFFSETS`); NaN before the first and after the last moment
    """
    count = len(motion)
    reach = max(OFFSETS)
    padded = np.pad(motion, ((reach, reach), (0, 0)), constant_values=np.nan)
    return np.concatenate([padded[reach + o : reach + o + count] for o in OFFSETS], axis=1)


def scale_inputs(windows: FloatArray, centre: FloatArray, spread: FloatArray) -> FloatArray:
    """Scale windows to what the network takes; what is unknown counts as usual.

    Parameters
    ----------
    windows
        (moments, inputs) as `stack_windows` gives them
    centre, spread
        (inputs,)

    Returns
    -------
    (moments, inputs)
    """
    scaled = np.clip((windows - centre) / spread, -_MOST_SPREADS, _MOST_SPREADS)
    return np.asarray(np.nan_to_num(scaled, nan=0.0))


def _probabilities(
    inputs: FloatArray, layers: tuple[tuple[FloatArray, FloatArray], ...]
) -> FloatArray:
    """(moments, 3) probabilities of no stroke, an own one, one of the other side."""
    values = inputs
    for weights, biases in layers[:-1]:
        values = np.maximum(values @ weights + biases, 0.0)
    weights, biases = layers[-1]
    scores = values @ weights + biases
    powers = np.exp(scores - scores.max(axis=1, keepdims=True))
    return np.asarray(powers / powers.sum(axis=1, keepdims=True))
