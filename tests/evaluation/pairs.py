"""Two ways of doing the same thing, run in turn: ratios of what they cost."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import median

from tests.evaluation.costs import Cost

PAIRS = 5

_TITLES = {"wall_s": "wall, s", "cpu_s": "processors, s", "peak_mb": "peak memory, MB"}


@dataclass(frozen=True)
class Pair:
    """What two ways cost, one right after the other."""

    first: Cost
    second: Cost

    def ratio(self, field: str) -> float:
        """How many times what the first way took the second one took."""
        return float(getattr(self.second, field) / getattr(self.first, field))


def run_pairs(first: Callable[[], Cost], second: Callable[[], Cost]) -> list[Pair]:
    """Run both ways in turn; which one goes first changes from pair to pair."""
    pairs = []
    for number in range(PAIRS):
        if number % 2:
            later, sooner = second(), first()
        else:
            sooner, later = first(), second()
        pairs.append(Pair(sooner, later))
    return pairs


def table_head(first: str, second: str) -> str:
    """Return the line above those of `pair_lines`."""
    return f"{'medians of pairs of runs':44} {first:>8} {second:>8}  ratio (range of the pairs)"


def pair_lines(name: str, pairs: Sequence[Pair]) -> str:
    """Return a line each for wall time, processor time and peak memory: medians and ratios."""
    lines = []
    for field, title in _TITLES.items():
        first = median(getattr(pair.first, field) for pair in pairs)
        second = median(getattr(pair.second, field) for pair in pairs)
        ratios = [pair.ratio(field) for pair in pairs]
        lines.append(
            f"{f'{name}: {title}':44} {first:8.2f} {second:8.2f}  "
            f"{median(ratios):.3f} ({min(ratios):.3f} to {max(ratios):.3f})"
        )
    return "\n".join(lines)
