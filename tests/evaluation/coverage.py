"""How often the intervals of `stance compare` hold the truth: `python -m tests.evaluation.coverage`.

Players are invented: each clip has a tendency of its own to over-side-on (beta-binomial with the
intraclass correlation in the column), each position true angles, and measured angles with the
standard errors of docs/accuracy.md, half of whose variance is shared by all positions of the
player in that view. The first table takes the classes as known for sure, so it shows sampling
alone; the second has them judged from the measured angles, as in a clip.
"""

import argparse
import functools
from collections.abc import Sequence

import numpy as np

from stance.comparison.changes import measure_change, share_change
from stance.measures.classes import DEFAULT_LIMITS, class_index, class_probabilities, classify
from stance.results.model import ClipSummary, CourtSummary, Filming, ReadyPosition, Result
from stance.statistics.inference import newcombe_interval
from stance.statistics.pooled import Pool, estimate_class_clustering, estimate_measure_clustering
from stance.statistics.shares import wilson_interval
from stance.types import CLASSES
from tests.unit.results.test_results import invented_position

CLIPS = (1, 2, 3, 5, 8, 12)
CORRELATIONS = (0.0, 0.05, 0.1, 0.2, 0.3)
# Shares before and after, and positions in a clip; all pairs and sizes are mixed in each cell.
SHARES = ((0.5, 0.2), (0.3, 0.3), (0.7, 0.4), (0.15, 0.15), (0.8, 0.3))
SIZES = (8, 15)
HIP_SE, LEAD_SE = 7.5, 3.0
SIDE_ON, OTHERWISE = -58.0, -12.0  # mean true hip yaw in and out of the class, degrees
SCATTER = 7.0


@functools.cache
def chances(lead: int, hip: int) -> dict[str, float]:
    """Class probabilities of angles in whole degrees."""
    return class_probabilities(lead, LEAD_SE, hip, HIP_SE)


def draw_tendencies(
    random: np.random.Generator,
    share: float,
    clips: int,
    correlation: float,
) -> np.ndarray:
    """Each clip's own share, (clips,)."""
    if correlation == 0:
        return np.full(clips, share)
    size = (1 - correlation) / correlation
    return random.beta(share * size, (1 - share) * size, clips)


def drawn_position(
    random: np.random.Generator,
    side_on: bool,
    shared: tuple[float, float],
    certain: bool,
    feet_too: bool = False,
) -> ReadyPosition:
    """One ready position as measured: hips side-on or not, and with `feet_too` the feet as well."""
    lead = float(np.clip(random.normal(-12.0, 8.0), -38, 38))
    if feet_too and side_on:
        lead = float(np.clip(random.normal(-54.0, 5.0), -80, -44))
    hip = float(
        np.clip(
            random.normal(SIDE_ON if side_on else OTHERWISE, SCATTER),
            *((-90, -41) if side_on else (-39, 39)),
        )
    )
    seen_lead = lead + LEAD_SE * (shared[0] + random.normal()) / np.sqrt(2)
    seen_hip = hip + HIP_SE * (shared[1] + random.normal()) / np.sqrt(2)
    if certain:
        name = CLASSES[int(class_index(lead, hip, DEFAULT_LIMITS))]
        probabilities = {c: float(c == name) for c in CLASSES}
    else:
        probabilities = chances(round(seen_lead), round(seen_hip))
        name, _ = classify(seen_lead, probabilities)
    return invented_position(
        seen_lead,
        seen_hip,
        hip_yaw_se_deg=HIP_SE,
        lead_angle_se_deg=LEAD_SE,
        stance_class=name,
        probabilities=probabilities,
    )


def invented_clip(number: int, view: str = "corner") -> Result:
    """A clip without players, to number a pool's clips."""
    return Result(
        ClipSummary(f"{number}.mp4", f"{number:064d}", 60.0, 1800, 30.0, (1280, 720)),
        CourtSummary("marked", 1.0, (), (), ()),
        (),
        filming=Filming(view, 2.0, 7.0),
    )


def drawn_pool(
    random: np.random.Generator,
    share: float,
    clips: int,
    size: int,
    correlation: float,
    shared: tuple[float, float] = (0.0, 0.0),
    certain: bool = True,
    view: str = "corner",
) -> Pool:
    """A player's ready positions over several clips."""
    positions, numbers = [], []
    for number, tendency in enumerate(draw_tendencies(random, share, clips, correlation)):
        for _ in range(size):
            positions.append(
                drawn_position(random, bool(random.random() < tendency), shared, certain)
            )
            numbers.append(number)
    results = tuple(invented_clip(n, view) for n in range(clips))
    return Pool(
        tuple(positions),
        np.array(numbers),
        ((view, "marked"),) * len(positions),
        tuple(r.filming for r in results),
        results,
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
        shared = [tuple(random.standard_normal(2)) for _ in range(2)]
        before = drawn_pool(random, first, clips, size, correlation, shared[0], certain)
        after = drawn_pool(
            random,
            second,
            clips,
            size,
            correlation,
            shared[0 if same_view else 1],
            certain,
            "corner" if same_view else "behind",
        )
        change = share_change(
            before,
            after,
            "over_side_on",
            estimate_class_clustering([before, after], "over_side_on"),
        )
        share_held += change.interval[0] <= second - first <= change.interval[1]
        counts = [(s.count, s.assessed) for s in (change.after, change.before)]
        bare = newcombe_interval(*(x for k, n in counts for x in (k / n, wilson_interval(k, n))))
        naive_held += bare[0] <= second - first <= bare[1]
        hips = measure_change(
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
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
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
