"""Whether the floors of other sports are taken for a badminton court.

`python -m tests.evaluation.other_sports [--count N] [--split test]` renders nine pictures of each
of N clips four times, each time with the lines of another sport in place of the badminton court's
and without its net, searches the court in them as the analysis would, and prints how often one is
claimed. People move as in a drill, most of them at one end of that floor.
"""

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial

import numpy as np

from tests.evaluation.court_accuracy import search_court
from tests.evaluation.halls import FLOORS, in_hall, paint_instead, without_net
from tests.rendering.clips import Clip, draw_clip
from tests.rendering.light import linear
from tests.rendering.schemes import FOREIGN_LINE_COLOURS


def draw_other(seed: int, split: str, sport: str) -> Clip:
    """A random drill clip on the floor of another sport, without a net."""
    clip = draw_clip(seed, split, positions=3)
    rng = np.random.default_rng([seed, list(FLOORS).index(sport)])
    own = clip.scene.hall.colours[2]
    tint = linear(FOREIGN_LINE_COLOURS[rng.integers(len(FOREIGN_LINE_COLOURS))])
    hall = paint_instead(clip.scene.hall, FLOORS[sport], own if rng.uniform() < 0.5 else tint)
    painted = in_hall(clip, hall)
    return replace(painted, scene=without_net(painted.scene))


def claimed_confidence(seed: int, split: str, sport: str) -> float:
    """The confidence of the court that is claimed on another sport's floor; NaN for none."""
    found = search_court(draw_other(seed, split, sport))
    return np.nan if found.court is None else found.confidence


def print_table(confidences: dict[str, Sequence[float]]) -> None:
    """Print how often a court is claimed on each floor."""
    print("| floor | clips | claimed for a badminton court |\n|---|---|---|")
    for sport, row in confidences.items():
        print(f"| {sport} | {len(row)} | {int(np.isfinite(row).sum())} |")


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.evaluation.other_sports", description=__doc__.splitlines()[0]
    )
    parser.add_argument("--count", type=int, default=50)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--split", default="test", choices=("train", "tune", "test"))
    parser.add_argument("--workers", type=int, default=2)
    options = parser.parse_args()
    seeds = range(options.first, options.first + options.count)
    confidences: dict[str, Sequence[float]] = {}
    with ProcessPoolExecutor(options.workers) as pool:
        for sport in FLOORS:
            claim = partial(claimed_confidence, split=options.split, sport=sport)
            confidences[sport] = list(pool.map(claim, seeds))
            for seed, confidence in zip(seeds, confidences[sport], strict=True):
                if np.isfinite(confidence):
                    print(f"{sport}, clip {seed}: claimed ({confidence:.2f})", flush=True)
    print_table(confidences)


if __name__ == "__main__":
    main()
