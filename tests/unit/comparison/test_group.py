"""A group is compared within its players."""

import numpy as np
import pytest

from stance.comparison.compare import compare
from stance.results.model import Filming
from tests.unit.invented import drawn_result


def test_who_was_filmed_more_often_on_a_side_cannot_pass_for_a_change():
    # Simpson's paradox: each player improves, but the one who is side-on more often was filmed
    # more after the block, so the pooled shares rise.
    random = np.random.default_rng(3)
    before = [drawn_result(random, 2, 10, "A-1", certain=True) for _ in range(6)]
    before += [drawn_result(random, 9, 10, "B-2", certain=True)]
    after = [drawn_result(random, 0, 10, "A-1", certain=True)]
    after += [drawn_result(random, 7, 10, "B-2", certain=True) for _ in range(6)]
    comparison = compare(before, after)
    whole = comparison.whole.classes["over_side_on"]
    assert whole.after.share > whole.before.share and whole.difference < 0
    assert [c.player for c in comparison.players] == ["A-1", "B-2"]
    assert comparison.whole.player == "2 players"
    assert 0 < whole.p_value < 1 and whole.method == "score"
    own = [c.classes["over_side_on"].difference for c in comparison.players]
    # Mantel-Haenszel weights: both players have 60 positions on one side and 10 on the other.
    assert whole.difference == pytest.approx(np.mean(own))
    assert whole.average[1] - whole.average[0] == pytest.approx(whole.difference)


def test_a_single_player_is_no_group():
    random = np.random.default_rng(3)
    results = [drawn_result(random, 2, 10, name) for name in ("A-1", "B-2", "A-1", "B-2")]
    comparison = compare(results[:2], results[2:], player="B-2")
    assert comparison.group is None and comparison.whole.player == "B-2"
    assert len(comparison.players) == 1


def test_twelve_players_are_resampled():
    random = np.random.default_rng(4)
    names = [f"J-{i:02d}" for i in range(12)]
    before = [drawn_result(random, int(random.integers(5, 10)), 12, n, certain=True) for n in names]
    after = [drawn_result(random, int(random.integers(1, 5)), 12, n, certain=True) for n in names]
    whole = compare(before, after).whole
    assert whole.classes["over_side_on"].method == "bootstrap"
    assert whole.classes["over_side_on"].verdict == "down"
    assert whole.statement.startswith("Better over 12 players: the average player's")


def test_players_filmed_differently_are_noted_for_the_group():
    random = np.random.default_rng(5)
    before = [drawn_result(random, 6, 12, name) for name in ("A-1", "B-2")]
    after = [
        drawn_result(random, 6, 12, n, filming=Filming(v, 2.0, 7.0))
        for n, v in (("A-1", "side"), ("B-2", "corner"))
    ]
    comparison = compare(before, after)
    assert [w.code for w in comparison.whole.warnings] == ["filming"]
    assert "filming_view" in [w.code for w in comparison.players[0].warnings]


def test_players_who_went_different_ways_are_judged_each_by_itself():
    random = np.random.default_rng(6)
    counts = {"A-1": (11, 1), "B-2": (1, 11)}
    before, after = (
        [
            drawn_result(random, c[side], 12, n, certain=True)
            for n, c in counts.items()
            for _ in "123"
        ]
        for side in (0, 1)
    )
    whole = compare(before, after).whole
    assert whole.sentences[1] == "Surely better: A-1; surely worse: B-2."
    assert whole.advice.startswith("The players went different ways")
