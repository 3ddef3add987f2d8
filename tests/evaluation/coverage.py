"""How often the intervals of `stance compare` hold the truth.

`python -m tests.evaluation.coverage` prints it for several numbers of clips and correlations.

Players are invented: each clip has a tendency of its own to over-side-on (beta-binomial with the
intraclass correlation in the column), each position true angles, and measured angles with the
standard errors of docs/accuracy.md, half of whose variance is shared by all positions of the
player in that view. The first table takes the classes as known for sure, so it shows sampling
alone; the second has them judged from the measured angles, as in a clip.
"""

import argparse
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stance.comparison.changes import compare_measure, compare_share
from stance.results.model import ClipSummary, CourtSummary, Filming, Result
from stance.statistics.inference import newcombe_interval
from stance.statistics.pooled import Pool, estimate_class_clustering, estimate_measure_clustering
from stance.statistics.shares import wilson_interval
from tests.unit.invented import OTHERWISE, SCATTER, SIDE_ON, draw_tendencies, drawn_position

CLIPS = (1, 2, 3, 5, 8, 12)
CORRELATIONS = (0.0, 0.05, 0.1, 0.2, 0.3)
# Shares before and after, and positions in a clip; all pairs and sizes are mixed in each cell.
SHARES = ((0.5, 0.2), (0.3, 0.3), (0.7, 0.4), (0.15, 0.15), (0.8, 0.3))
SIZES = (8, 15)


def invented_clip(number: int, view: str = "corner") -> Result:
    """A clip without players, to number a pool's clips."""
    return Result(
        ClipSummary(f"{number}.mp4", f"{number:064d}", 60.0, 1800, 30.0, (1280, 720)),
        CourtSummary("marked", 1.0, None),
        (),
        filming=Filming(view, 2.0, 7.0),
    )


@dataclass(frozen=True)
class Measuring:
    """How a player's clips are measured.

    `shared` in standard errors of lead angle and hips, the same for all positions; `certain`
    whether classes are known for sure; `view` where the camera stands.
    """

    shared: tuple[float, float] = (0.0, 0.0)
    certain: bool = True
    view: str = "corner"


def drawn_pool(
    random: np.random.Generator,
    share: float,
    clips: int,
    size: int,
    correlation: float,
    measuring: Measuring,
) -> Pool:
    """A player's ready positions over several clips."""
    positions, numbers = [], []
    for number, tendency in enumerate(draw_tendencies(random, share, clips, correlation)):
        for _ in range(size):
            side_on = bool(random.random() < tendency)
            positions.append(drawn_position(random, side_on, measuring.shared, measuring.certain))
            numbers.append(number)
    results = tuple(invented_clip(n, measuring.view) for n in range(clips))
    return Pool(
        tuple(positions),
        np.array(numbers),
        np.arange(len(positions)),
        ((measuring.view, "marked"),) * len(positions),
        tuple(r.filming for r in results),
        results,
        (),
    )


def true_mean(share: float, truths: dict[bool, float]) -> float:
    """True mean hip yaw of a player with a share."""
    return share * truths[True] + (1 - share) * truths[False]


def mean_truths() -> dict[bool, float]:
    """Mean true hip yaw in and out of the class, after its limits."""
    random = np.random.default_rng(0)
    draws = random.standard_normal(200_000) * SCATTER
    return {
        True: float(np.clip(SIDE_ON + draws, -90, -41).mean()),
        False: float(np.clip(OTHERWISE + draws, -39, 39).mean()),
    }


def held(
    random: np.random.Generator,
    clips: int,
    correlation: float,
    repeats: int,
    certain: bool,
    same_view: bool = True,
) -> tuple[float, float, float]:
    """How often the intervals hold: of the share's difference, of the hips', and naively.

    "Naively" is Newcombe's interval on the bare counts, as if all positions were independent.
    """
    truths = mean_truths()
    share_held = hips_held = naive_held = 0
    for repeat in range(repeats):
        first, second = SHARES[repeat % len(SHARES)]
        size = SIZES[repeat // len(SHARES) % len(SIZES)]
        here, elsewhere = (tuple(random.standard_normal(2)) for _ in range(2))
        first_time = Measuring(here, certain)
        second_time = first_time if same_view else Measuring(elsewhere, certain, "behind")
        before = drawn_pool(random, first, clips, size, correlation, first_time)
        after = drawn_pool(random, second, clips, size, correlation, second_time)
        change = compare_share(
            before,
            after,
            "over_side_on",
            estimate_class_clustering([before, after], "over_side_on"),
        )
        share_held += change.interval[0] <= second - first <= change.interval[1]
        counts = [(s.count, s.assessed) for s in (change.after, change.before)]
        bare = newcombe_interval(*(x for k, n in counts for x in (k / n, wilson_interval(k, n))))
        naive_held += bare[0] <= second - first <= bare[1]
        hips = compare_measure(
            before,
            after,
            "hip_yaw_deg",
            estimate_measure_clustering([before, after], "hip_yaw_deg"),
        )
        difference = true_mean(second, truths) - true_mean(first, truths)
        hips_held += hips.interval[0] <= difference <= hips.interval[1]
    return share_held / repeats, hips_held / repeats, naive_held / repeats


def print_table(
    title: str,
    clips: Sequence[int],
    repeats: int,
    certain: bool,
    same_view: bool,
) -> None:
    """Print one table: a row per number of clips, a column per correlation."""
    random = np.random.default_rng(20261125)
    print(f"\n{title}\n(share's difference / mean hip yaw's difference / share's by bare counts)")
    print("clips a side  " + "".join(f"correlation {c:<9.2f}" for c in CORRELATIONS))
    cells = {}
    for number in clips:
        row = [held(random, number, c, repeats, certain, same_view) for c in CORRELATIONS]
        cells |= {(number, c): cell for c, cell in zip(CORRELATIONS, row, strict=True)}
        print(
            f"{number:>12}  " + "".join("  ".join(f"{v:.3f}" for v in cell) + "  " for cell in row),
            flush=True,
        )
    for title, chosen in (
        ("one clip", (1,)),
        ("two clips", (2,)),
        ("three and more", range(3, max(clips) + 1)),
    ):
        clustered = [cell for (number, c), cell in cells.items() if number in chosen and c > 0]
        if clustered:
            means = np.mean(clustered, axis=0)
            print(
                f"{title} a side, correlation 0.05 to 0.3: share {means[0]:.3f}, hips "
                f"{means[1]:.3f}, bare counts {means[2]:.3f}"
            )


def main() -> None:
    """Run as a command."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.evaluation.coverage", description=__doc__.split("\n\n")[0]
    )
    parser.add_argument("--repeats", type=int, default=1000, help="per cell of the tables")
    parser.add_argument("--clips", type=int, nargs="+", default=CLIPS)
    arguments = parser.parse_args()
    for title, certain, same_view in (
        ("Classes known for sure", True, True),
        ("Classes judged from measured angles, the same view on both sides", False, True),
        ("Classes judged from measured angles, another view afterwards", False, False),
    ):
        print_table(title, arguments.clips, arguments.repeats, certain, same_view)


if __name__ == "__main__":
    main()
