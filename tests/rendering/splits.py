"""How the train, tune and test splits are kept apart.

Seeds of different splits never meet (`generator`), continuous settings come from different bands
of their range (`comb`), and colour schemes of halls and clothes from different lists (`choose`).
"""

from collections.abc import Sequence
from typing import TypeVar

import numpy as np

Choice = TypeVar("Choice")

SPLITS = ("train", "tune", "test")
COMB_TEETH = 20
# Teeth of the comb, and entries of a list, by their number modulo 5.
SPLIT_OF_TOOTH = ("train", "train", "tune", "train", "test")


def generator(seed: int, split: str) -> np.random.Generator:
    """The source of all draws of one picture or clip; seeds of different splits never meet."""
    return np.random.default_rng([SPLITS.index(split), seed])


def choose(rng: np.random.Generator, split: str, entries: Sequence[Choice]) -> Choice:
    """One of those entries of a list that belong to the split."""
    own = [k for k in range(len(entries)) if SPLIT_OF_TOOTH[k % 5] == split]
    return entries[int(rng.choice(own))]


def comb(rng: np.random.Generator, split: str) -> float:
    """A number in 0..1 from the split's teeth of a comb of COMB_TEETH equal bands.

    Every split covers the whole range, and no two splits share a band, so what is drawn through
    it (body shape, stature, camera distance, height, lens) never coincides between splits.
    """
    teeth = [k for k in range(COMB_TEETH) if SPLIT_OF_TOOTH[k % 5] == split]
    return float((rng.choice(teeth) + rng.uniform()) / COMB_TEETH)
