"""Weights of the feet's standard errors, fitted on more than one kind of pictures."""

import json
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stance.measures.network_outputs import FACTORS_FILE
from stance.runtime.model_files import models_folder, network_card
from stance.types import FloatArray

# 95 % intervals shall hold so many of the truths on every source, per cent.
RANGE = (90.0, 98.0)

_STEPS = np.round(np.arange(0.0, 2.05, 0.1), 1)


@dataclass(frozen=True)
class Source:
    """Measures of one kind of pictures against the truth.

    Attributes
    ----------
    errors : (stills, measures)
    feet_sizes : (stills, measures, 2) standard errors by what the network predicts alone, and by
        how far its readings are apart alone
    truth_sizes : (stills, measures) or 0, standard errors of the truth itself
    """

    errors: FloatArray
    feet_sizes: FloatArray
    truth_sizes: FloatArray | float = 0.0


def fit_feet(sources: Sequence[Source]) -> tuple[float, float]:
    """Fit the weights and write them.

    Of all in steps of a tenth with which 95 % intervals hold as often as `RANGE` says on every
    source, those that make the intervals narrowest.

    Returns
    -------
    of what the network predicts, and of how far its readings are apart

    Raises
    ------
    ValueError
        If there are none such.
    """
    able = [
        (first, second)
        for first in _STEPS
        for second in _STEPS
        if all(
            ((RANGE[0] <= hold) & (hold <= RANGE[1])).all()
            for hold in (holding(source, first, second) for source in sources)
        )
    ]
    if not able:
        raise ValueError("no weights make the intervals hold on every source")
    predicted, apart = min(able, key=lambda pair: _width(sources, *pair))
    content = network_card(FACTORS_FILE)
    content["feet"] = {"predicted": float(predicted), "apart": float(apart)}
    (models_folder() / FACTORS_FILE).write_text(json.dumps(content, indent=1) + "\n")
    return float(predicted), float(apart)


def holding(source: Source, predicted: float, apart: float) -> FloatArray:
    """How often 95 % intervals with some weights hold, per cent, (measures,)."""
    sizes = np.hypot(_sizes(source, predicted, apart), source.truth_sizes)
    return np.asarray(100.0 * np.mean(np.abs(source.errors) <= 1.96 * sizes, axis=0))


def _width(sources: Sequence[Source], predicted: float, apart: float) -> float:
    """Mean logarithm of the measures' median standard errors."""
    return float(
        np.mean(
            np.concatenate(
                [np.log(np.median(_sizes(source, predicted, apart), axis=0)) for source in sources]
            )
        )
    )


def _sizes(source: Source, predicted: float, apart: float) -> FloatArray:
    """Standard errors (stills, measures) with some weights."""
    weighted = source.feet_sizes * np.array([predicted, apart])
    return np.asarray(np.hypot(weighted[..., 0], weighted[..., 1]))
