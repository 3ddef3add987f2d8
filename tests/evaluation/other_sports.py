"""Whether the floors of other sports are taken for a badminton court.

`python -m tests.evaluation.other_sports [--count N] [--split test]` renders nine pictures of each
of N clips four times, each time with the lines of another sport in place of the badminton court's
and without its net, searches the court in them as the analysis would, and prints how often one is
claimed. People move as in a drill, most of them at one end of that floor.

Sizes are those of the sports' published rules, from memory: volleyball (FIVB, Official Volleyball
Rules, rule 1), tennis (ITF, Rules of Tennis, rule 1), basketball (FIBA, Official Basketball Rules,
article 2) and handball (IHF, Rules of the Game, rule 1).
"""

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from tests.evaluation.court_accuracy import search_court
from tests.rendering.arrays import FloatArray
from tests.rendering.clips import Clip, draw_clip
from tests.rendering.hall import Hall
from tests.rendering.light import linear
from tests.rendering.raster import Window
from tests.rendering.scene import EmptyScene, render_empty
from tests.rendering.schemes import FOREIGN_LINE_COLOURS

FEET_M = 0.3048


@dataclass(frozen=True)
class Floor:
    """A sport's lines; `y` runs along the floor, the middle is the origin, metres.

    `along`: x of lines and from where to where in y; `across`: y of lines and from where to where
    in x, each for one half, the other mirrors it; `circles`: y of the centre and radius. `width`
    of lines.
    """

    width: float
    along: tuple[tuple[float, float, float], ...]
    across: tuple[tuple[float, float, float], ...]
    circles: tuple[tuple[float, float], ...] = ()


FLOORS = {
    "volleyball": Floor(
        0.05,
        ((4.5, 0.0, 9.0), (-4.5, 0.0, 9.0)),
        ((0.0, -4.5, 4.5), (3.0, -4.5, 4.5), (9.0, -4.5, 4.5)),
    ),
    "tennis": Floor(
        0.05,
        (
            *((side * 18.0 * FEET_M, 0.0, 39.0 * FEET_M) for side in (-1, 1)),
            *((side * 13.5 * FEET_M, 0.0, 39.0 * FEET_M) for side in (-1, 1)),
            (0.0, 0.0, 21.0 * FEET_M),
        ),
        (
            (21.0 * FEET_M, -13.5 * FEET_M, 13.5 * FEET_M),
            (39.0 * FEET_M, -18.0 * FEET_M, 18.0 * FEET_M),
        ),
    ),
    "basketball": Floor(
        0.05,
        (
            *((side * 7.5, 0.0, 14.0) for side in (-1, 1)),
            *((side * 2.45, 8.2, 14.0) for side in (-1, 1)),
            *((side * 6.6, 11.01, 14.0) for side in (-1, 1)),
        ),
        ((0.0, -7.5, 7.5), (8.2, -2.45, 2.45), (14.0, -7.5, 7.5)),
        ((0.0, 1.8), (8.2, 1.8), (12.425, 6.75)),
    ),
    "handball": Floor(
        0.05,
        ((10.0, 0.0, 20.0), (-10.0, 0.0, 20.0)),
        ((0.0, -10.0, 10.0), (13.0, -0.5, 0.5), (14.0, -1.5, 1.5), (20.0, -10.0, 10.0)),
        ((20.0, 6.0), (20.0, 9.0)),
    ),
}
"""The basketball and handball arcs are drawn as whole circles."""


def paint(hall: Hall, floor: Floor, colour: FloatArray) -> Hall:
    """A hall with another sport's lines in place of the badminton courts'.

    Parameters
    ----------
    hall
        Where it is painted.
    floor
        The sport's lines.
    colour
        (3,) of the lines, linear light.
    """
    half = floor.width / 2
    rows = [row for row in hall.lines if not row[-1]]
    for sign in (-1.0, 1.0):
        for x, *ends in floor.along:
            low, high = sorted(sign * end for end in ends)
            rows.append(np.array([x - half, x + half, low, high, *colour, 0.0]))
        for y, low, high in floor.across:
            rows.append(np.array([low, high, sign * y - half, sign * y + half, *colour, 0.0]))
    rings = [(0.0, sign * y, radius, *colour) for sign in (-1, 1) for y, radius in floor.circles]
    colours = hall.colours.copy()
    colours[1] = colours[0]
    return replace(
        hall,
        lines=np.array(rows),
        circles=np.concatenate([hall.circles, np.array(rings).reshape(-1, 6)]),
        colours=colours,
    )


def without_net(scene: EmptyScene) -> EmptyScene:
    """The same hall without the net."""
    net = replace(scene.net, colour=0 * scene.net.colour, cover=0 * scene.net.cover)
    return replace(scene, net=net)


def draw_other(seed: int, split: str, sport: str) -> Clip:
    """A random drill clip on the floor of another sport, without a net."""
    clip = draw_clip(seed, split, positions=3)
    rng = np.random.default_rng([seed, list(FLOORS).index(sport)])
    own = clip.scene.hall.colours[2]
    tint = linear(FOREIGN_LINE_COLOURS[rng.integers(len(FOREIGN_LINE_COLOURS))])
    hall = paint(clip.scene.hall, FLOORS[sport], own if rng.uniform() < 0.5 else tint)
    scene = render_empty(hall, clip.camera, Window(0, 0, *clip.camera.size))
    return replace(clip, scene=without_net(scene))


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
