"""The academy's page says what the numbers say."""

from dataclasses import replace
from html import unescape

import pytest

from stance.academy.page import screening_html
from stance.academy.player_page import page_name
from stance.academy.statement import describe_screening
from stance.comparison.presentation import format_count, format_percent
from stance.results.model import Notice
from tests.unit.academy.invented_academy import screen_invented
from tests.unit.page_text import read_page

NAME = '<b>Ann & "Bo"'


@pytest.fixture(scope="module")
def screening():
    screening = screen_invented(
        {"S": [(13, 14, "2026-01-05"), (12, 14, "2026-02-05")], NAME: [(1, 14, "")]},
        failing=["Broken."],
    )
    return replace(screening, warnings=(Notice("hand_unsure", "The hand is <unsure>."),))


def test_players_reasons_warnings_and_limits_are_on_the_page(screening):
    html = screening_html(screening)
    text = read_page(html)
    for words in (
        NAME,
        describe_screening(screening),
        "habit",
        "too few to say",
        "Broken.",
        "The hand is <unsure>.",
        "The coach decides",
        "guardian",
        "safeguarding",
        "no medical",
    ):
        assert words in text
    assert NAME not in html
    for player in screening.players:
        assert f'href="players/{page_name(player)}"' in html
        over = player.shares["over_side_on"]
        assert format_count(over) in unescape(html) and format_percent(over) in unescape(html)


def test_no_statistic_is_on_the_page_but_counts_and_ranges(screening):
    text = read_page(screening_html(screening))
    for word in ("p =", "p-value", "q-value", "interval", "leading"):
        assert word not in text


def test_a_player_without_an_assessed_position_has_no_strip(screening):
    rows = screening_html(screening).split("<tr>")
    (row,) = [row for row in rows if ">Z</a>" in row]
    assert "<svg" not in row and "none assessed" in row
