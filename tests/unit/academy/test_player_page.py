"""A player's pages: the coach's, and the one for the family."""

import re
from dataclasses import replace

import pytest

from stance.academy.advice import advise_player
from stance.academy.player_page import family_html, page_name, player_html
from stance.academy.statement import describe_player
from tests.unit.academy.invented_academy import screen_invented
from tests.unit.invented_pages import Pictured
from tests.unit.page_text import read_page

NAME = '<b>Ann & "Bo"'


@pytest.fixture(scope="module")
def players():
    """A player with a habit, one with none, and one of whom nothing was assessed."""
    return screen_invented(
        {
            "S": [(13, 14, "2026-01-05"), (11, 14, "2026-02-05")],
            NAME: [(0, 14, "2026-01-05"), (0, 14, "2026-02-05"), (0, 14, "2026-02-12")],
        },
        failing=["Broken."],
        certain=True,
    ).players


def by_name(players, name):
    return next(p for p in players if p.player == name)


def test_the_page_says_flag_meaning_advice_and_trend_and_links_to_the_clips(players):
    player = by_name(players, "S")
    html = player_html(player, Pictured())
    text = " ".join(re.sub("<[^>]+>", " ", html).split())
    assert " ".join(describe_player(player).split()) in text
    assert "What to do" in text and all(" ".join(s.split()) in text for s in advise_player(player))
    assert "Habit: over-side-on in surely more than 25 %" in text
    assert "From the earlier to the later dates: " in text
    assert html.count("<img ") == 4
    for clip in player.clips:
        assert f'href="../kept/{clip.result.clip.file}/report.html"' in html and clip.file in text


def test_what_is_not_known_is_not_said(players):
    single = screen_invented({"S": [(13, 14, "")]}).players[0]
    assert "From the earlier" not in read_page(player_html(single))
    assert "No ready position could be assessed." in read_page(player_html(by_name(players, "Z")))


def test_a_player_without_a_sign_shows_the_typical_stances(players):
    html = player_html(by_name(players, NAME), Pictured())
    assert "Typical stances" in html and "Nothing to mend" in html
    assert "over-side-on ones" not in html


def test_the_familys_page_leads_nowhere_and_names_nobody_else(players):
    player = by_name(players, "S")
    clips = tuple(replace(clip, session="with Bo") for clip in player.clips)
    player = replace(player, clips=clips)
    assert "with Bo" in player_html(player) and "with Bo" not in family_html(player)
    html = family_html(player, Pictured())
    assert "href" not in html and html.count("<img ") == 4
    assert set(re.findall(r'src="(.{5})', html)) == {"data:"}
    html = re.sub('base64,[^"]*', "", html)
    for other in players:
        if other.player != player.player:
            assert other.player not in html and not any(c.file in html for c in other.clips)
    assert all(clip.file not in html and clip.key not in html for clip in player.clips)
    text = " ".join(re.sub("<[^>]+>", " ", html).split())
    for words in (describe_player(player), "for the player and the family alone", "no medical"):
        assert " ".join(words.split()) in text


def test_a_picture_with_faces_is_not_for_a_family(players):
    player = by_name(players, "S")
    first, second = player.clips
    clear = replace(player, clips=(replace(first, faces_blurred=False), second))
    assert player_html(clear, Pictured()).count("<img ") == 4
    found = family_html(clear, Pictured())
    assert "2026-02-05" in found and "<br>\n2026-01-05" not in found
    none = replace(player, clips=(replace(first, faces_blurred=False),))
    assert "<img " not in family_html(none, Pictured())


def test_names_are_escaped(players):
    for html in (player_html(by_name(players, NAME)), family_html(by_name(players, NAME))):
        assert NAME not in html and NAME in read_page(html)


def test_names_of_pages_are_readable_and_unlike_any_other(players):
    player = players[0]
    names = [page_name(replace(player, player=name)) for name in ("Åse Ø.", "Ase O", "李", "王")]
    assert len(set(names)) == 4
    assert names[1].startswith("ase-o-") and names[2].startswith("player-")
    assert all(name.isascii() and " " not in name for name in names)
