"""How far the quick way of observing is from `--thorough`.

`python -m tests.evaluation.thorough FOLDER` analyses every clip of a folder both ways, court file
and hand given, and prints how far measures and shares are apart, in each clip and over all. A
folder holds NAME.mp4, NAME.court.json and NAME.truth.json, as `python -m tests.rendering clip`
writes them. A clip in which one way finds more players than the other is named and left out.
"""

import argparse
import json
import multiprocessing
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from stance.analysis import analyse
from stance.assessment.options import AnalysisOptions
from stance.results.json_format import to_json
from stance.watching.options import QUICK, THOROUGH
from tests.evaluation.accuracy import MEASURES, overlap, wrapped


def apart(quick: dict, thorough: dict) -> list[dict[str, float]]:
    """How far the measures of ready positions found both ways are apart, for one player each."""
    return [
        {
            name: abs(float(wrapped(name, np.array(first[name] - second[name])))) * unit
            for name, _, unit in MEASURES
        }
        for first in quick["ready_positions"]
        for second in thorough["ready_positions"]
        if overlap(first, second) >= 0.5
    ]


def share_apart(quick: dict, thorough: dict) -> float:
    """Largest difference of a class's share, in points, for one player each."""
    return max(
        100
        * abs((quick["shares"][name]["share"] or 0.0) - (thorough["shares"][name]["share"] or 0.0))
        for name in quick["shares"]
    )


def shares_of_all(players: Sequence[dict]) -> dict[str, float]:
    """Share of each class among the assessed ready positions of all players, in points."""
    assessed = max(sum(player["assessed"] for player in players), 1)
    return {
        name: 100 * sum(player["shares"][name]["count"] for player in players) / assessed
        for name in players[0]["shares"]
    }


def print_clip(name: str, quick: dict, thorough: dict) -> None:
    """Print in a line how far a player, seen quickly, is from the same thoroughly, on average."""
    found = apart(quick, thorough)
    means = []
    for key, title, _ in MEASURES if found else ():
        measure, unit = title.split(", ")
        means.append(f", {measure} {np.mean([position[key] for position in found]):.2f} {unit}")
    print(
        f"{name}: {len(quick['ready_positions'])} ready positions, thorough "
        f"{len(thorough['ready_positions'])}, {len(found)} in both; largest difference of a "
        f"share {share_apart(quick, thorough):.1f} points{''.join(means)}",
        flush=True,
    )


def print_apart(pairs: Sequence[tuple[dict, dict]]) -> None:
    """Print how far players seen quickly are from the same players seen thoroughly."""
    found = [apart(*pair) for pair in pairs]
    shares = [share_apart(*pair) for pair in pairs]
    counts = [sum(len(pair[way]["ready_positions"]) for pair in pairs) for way in (0, 1)]
    print(
        f"{len(pairs)} player(s): {counts[0]} ready positions, thorough {counts[1]}, "
        f"{sum(map(len, found))} in both\n  largest difference of a share: mean "
        f"{np.mean(shares):.1f} points, largest {max(shares):.1f}"
    )
    quick, thorough = (shares_of_all([pair[way] for pair in pairs]) for way in (0, 1))
    for name in quick:
        print(f"  share over all, {name}: {quick[name]:.1f} %, thorough {thorough[name]:.1f} %")
    for name, title, _ in MEASURES:
        values = np.array([position[name] for some in found for position in some])
        print(
            f"  {title}: mean {values.mean():.2f}, median {np.median(values):.2f}, largest "
            f"{values.max():.2f}"
        )


def both_ways(clip: Path) -> list[tuple[dict, dict]]:
    """Analyse a clip both ways; each player quickly and thoroughly, as JSON.

    Empty where one way finds more players than the other.
    """
    hand = json.loads(clip.with_suffix(".truth.json").read_text())["player"]["hand"]
    court = clip.with_suffix(".court.json")
    quick, thorough = (
        to_json(analyse(clip, court, AnalysisOptions(hand=hand, effort=effort)).result)
        for effort in (QUICK, THOROUGH)
    )
    if len(quick["players"]) != len(thorough["players"]):
        print(
            f"{clip.name}: {len(quick['players'])} player(s), thorough "
            f"{len(thorough['players'])}; left out"
        )
        return []
    return list(zip(quick["players"], thorough["players"], strict=True))


def main() -> None:
    """Run as a command."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.evaluation.thorough", description=__doc__.split("\n\n")[0]
    )
    parser.add_argument("folder", type=Path)
    parser.add_argument("--workers", type=int, default=2)
    arguments = parser.parse_args()
    clips = sorted(arguments.folder.glob("*.mp4"))
    pairs = []
    with multiprocessing.get_context("spawn").Pool(arguments.workers) as pool:
        for clip, part in zip(clips, pool.imap(both_ways, clips), strict=True):
            for pair in part:
                print_clip(f"{clip.stem} {pair[0]['player']}", *pair)
            pairs += part
    if pairs:
        print_apart(pairs)


if __name__ == "__main__":
    main()
