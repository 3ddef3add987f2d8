"""The pages of a screening say what the numbers say."""

from dataclasses import replace
from html import unescape

import pytest

from stance.academy.page import page_name, player_html, screening_html
from stance.academy.statement import describe_player
from stance.comparison.presentation import format_share
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


def test_players_reasons_warnings_and_limits_are_on_the_academys_page(screening):
    html = screening_html(screening)
    text = read_page(html)
    for words in (
        NAME,
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
        assert format_share(player.shares["over_side_on"]) in unescape(html)


def test_a_players_page_has_statement_trend_and_links_to_the_clips(screening):
    first, second, last = screening.players
    html = player_html(first)
    text = read_page(html)
    assert describe_player(first) in text
    assert "From the earlier to the later dates: " in text
    for clip in first.clips:
        assert f'href="../kept/{clip.key}/report.html"' in html and clip.file in text
    assert "From the earlier" not in read_page(player_html(second))
    assert "No ready position could be assessed." in read_page(player_html(last))


def test_names_of_pages_are_readable_and_unlike_any_other(screening):
    player = screening.players[0]
    names = [page_name(replace(player, player=name)) for name in ("Åse Ø.", "Ase O", "李", "王")]
    assert len(set(names)) == 4
    assert names[1].startswith("ase-o-") and names[2].startswith("player-")
    assert all(name.isascii() and " " not in name for name in names)
