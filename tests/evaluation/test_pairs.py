"""What pairs of runs tell: ratios within each pair, and both ways first in turn."""

from tests.evaluation.costs import Cost
from tests.evaluation.pairs import PAIRS, Pair, pair_lines, run_pairs


def test_either_way_is_first_in_turn_and_each_pair_keeps_them_apart() -> None:
    order: list[str] = []

    def run(name: str, seconds: float) -> Cost:
        order.append(name)
        return Cost(seconds, seconds, 1.0)

    pairs = run_pairs(lambda: run("first", 1.0), lambda: run("second", 2.0))
    assert order[:4] == ["first", "second", "second", "first"]
    assert len(pairs) == PAIRS
    assert {(pair.first.wall_s, pair.second.wall_s) for pair in pairs} == {(1.0, 2.0)}


def test_ratios_are_of_each_pair_not_of_the_medians() -> None:
    pairs = [Pair(Cost(a, a, a), Cost(b, b, b)) for a, b in ((1, 2), (10, 10), (100, 50))]
    wall = pair_lines("both", pairs).splitlines()[0]
    assert wall.split()[-6:] == ["10.00", "10.00", "1.000", "(0.500", "to", "2.000)"]
