"""The page of a comparison says what the numbers say."""

from dataclasses import replace

import numpy as np

from stance.comparison.compare import compare
from stance.comparison.page import comparison_html
from tests.unit.comparison.invented_sets import draw_sets
from tests.unit.invented import drawn_result
from tests.unit.page_text import read_page


def test_counts_verdicts_and_limits_are_on_the_page():
    text = read_page(comparison_html(compare(*draw_sets(9, 1))))
    for words in (
        "27 of 36, 75 %",
        "less often after",
        "The coach decides",
        "consent of a parent or guardian",
        "safeguarding",
        "no medical advice",
    ):
        assert words in text


def test_every_player_of_a_group_is_on_the_page():
    random = np.random.default_rng(3)
    before = [drawn_result(random, 9, 12, name) for name in ("A-1", "B-2")]
    after = [drawn_result(random, 2, 12, name) for name in ("A-1", "B-2")]
    comparison = compare(before, after)
    text = read_page(comparison_html(comparison))
    assert "Each player's share of over-side-on" in text
    for change in comparison.players:
        assert change.player in text and change.statement in text


def test_a_page_with_nothing_assessed_is_whole():
    before, after = draw_sets(9, 1)
    lost = [
        replace(r, players=tuple(replace(p, ready_positions=()) for p in r.players)) for r in after
    ]
    text = read_page(comparison_html(compare(before, lost)))
    assert "none could be assessed after" in text and "none assessed" in text


def test_names_are_escaped():
    results = [
        drawn_result(np.random.default_rng(n), 3, 12, "<b>Ann", certain=True) for n in (1, 2)
    ]
    html = comparison_html(compare(results[:1], results[1:]))
    assert "<b>Ann" not in html and "<b>Ann" in read_page(html)
