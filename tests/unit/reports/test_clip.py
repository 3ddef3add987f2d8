"""The report: whole, self-contained, escaped, and honest where nothing was found."""

import re
from dataclasses import replace

import numpy as np
import pytest

from stance.assessment.picture_key import PictureKey
from stance.errors import OutputError
from stance.reports.clip import report_html, write_report
from stance.results.model import Notice, StrokeFaced
from stance.statistics.shares import class_shares
from tests.unit.assessment.advised import ALL_BACK, SQUARE, defender
from tests.unit.invented_pages import invented_pictures
from tests.unit.page_text import PageWalker
from tests.unit.results.invented import (
    UNKNOWN,
    invented_defender,
    invented_player,
    invented_position,
    invented_result,
)


def walk(html):
    """Parse a report and check that all tags close and all links lead somewhere."""
    walker = PageWalker()
    walker.feed(html)
    walker.close()
    assert walker.open == []
    assert len(set(walker.ids)) == len(walker.ids)
    inside = {link for link in walker.links if link.startswith("#")}
    assert {link.removeprefix("#") for link in inside} <= set(walker.ids)
    assert all(link.startswith("overlay.mp4") for link in {*walker.links} - inside)
    return walker, " ".join(" ".join(walker.text).split())


@pytest.fixture(scope="module")
def report():
    result = invented_result()
    return report_html(result, invented_pictures(result.players[0]), overlay=True)


def test_the_report_says_what_a_coach_asks_for_in_this_order(report):
    _, text = walk(report)
    places = [
        text.index(part)
        for part in (
            "7 of 8 waits could be judged.",
            "No stroke of the other side could be told, so each wait counts",
            "What to do",
            "Over-side-on at 3 of 7 waits",
            "before changing anything.",
            "Why: over-side-on at 3 of 7, likely range",
            "Clearest right",
            "Clearest over-side-on",
            "Which hand holds the racket could not be seen.",
            "How often each stance",
            "2 of 7, 29 % , likely range",
            "racket side in front at 1, back at 2",
            "racket foot in front by 10 to 40°; further is over-side-on 1 of 7, 14 %",
            "How long in each stance",
            "2.3 of 7.6 s, 30 % , likely range",
            "± is the typical error",
            "What the stances mean",
            "over-side-on, racket side in front",
            "How sure of the stance: very sure (over 99 %)",
            "48 ± 3° in front",
            "How sure of the stance: very sure (96 %)",
            "feet 18° in front, hips 9° in front",
            "could be square (52 %) or slightly",
            "3 that are square",
            "22 ± 3° back",
            "Where the player waited",
            "The court, as it was marked",
            "The court's lines fit with an error of 1.2 pixels",
            "as seen in the clip",
            "Before you use this The coach decides.",
            "consent of a parent or guardian",
            "safeguarding",
            "no medical",
            "sent nowhere",
        )
    ]
    assert places == sorted(places)


def test_the_time_line_leads_to_the_card_of_each_ready_position(report):
    jumps = report[report.index("To the card of ready position") :]
    walker, _ = walk(report)
    assert re.findall(r'href="#player-1-(\d)"', jumps) == list("12345678")


def test_every_ready_position_has_a_card_with_picture_and_view(report):
    walker, _ = walk(report)
    assert walker.tags.count("article") == 8
    # The two examples beside the advice are shown again on their cards.
    assert report.count("data:image/jpeg;") == 8 + 2
    assert report.count("View from above: feet") == 8


def test_over_side_on_and_doubtful_cards_come_first_and_open_and_others_are_folded(report):
    shown, folded = report.split("3 that are square or slightly racket-leg-back")
    assert list_numbers(shown) == [4, 3, 6, 7, 5] and list_numbers(folded) == [1, 2, 8]
    assert not re.search(r"<details[^>]*>(?:(?!</details>).)*<article", shown, re.S)


def test_a_long_clip_shows_thirty_of_them_and_folds_the_rest():
    player = defender([ALL_BACK] * 40)
    html = report_html(invented_result(player), {}, overlay=False)
    shown, folded = html.split("10 more that are over-side-on")
    assert (len(list_numbers(shown)), len(list_numbers(folded))) == (30, 10)


def list_numbers(html):
    """The numbers on cards, in their order."""
    return [int(number) for number in re.findall(r'<span class="number">(\d+)', html)]


def test_on_paper_a_table_has_a_row_for_each_ready_position(report):
    table = report[report.index('<table class="print-only') :].split("</table>")[0]
    rows = re.findall(r"<b>(\d)</b>", table)
    assert rows == list("12345678") and "30 ± 3° back" in table and "62 ± 6° back" in table


def test_where_landings_are_late_their_cards_come_first():
    player = defender([SQUARE] * 14, landing_s=[0.1] * 4 + [0.29] * 10)
    html = report_html(invented_result(player), {}, overlay=False)
    shown = html.split("4 that are square or slightly")[0]
    assert set(list_numbers(shown)) == set(range(5, 15)) and "Work on the timing" in html


def test_each_card_leads_to_its_second_in_the_video(play):
    walker, _ = walk(play)
    links = [link for link in walker.links if link.startswith("overlay.mp4#t=")]
    # Nine cards, two strokes met on the move and one not seen well enough.
    assert len(links) == 12
    # The landing 0.05 s before the contact at 11.3 s, and 0.8 s to see the player come.
    assert "overlay.mp4#t=10.4" in links and walker.links.count("overlay.mp4") == 1


def test_names_date_and_session_stand_in_title_and_heading_and_no_letters():
    players = (replace(invented_defender(), name="Mia"), replace(invented_player("B"), name="Bo"))
    result = replace(invented_result(*players), date="2026-03-14", session="week 3")
    html = report_html(result, {}, overlay=False)
    _, text = walk(html)
    assert "<title>Mia and Bo, 2026-03-14, week 3: stance report</title>" in html
    assert text.startswith("Mia and Bo, 2026-03-14, week 3 drill.mp4")
    assert "How often each stance: Bo" in text and "Player A" not in text


def test_the_drawn_court_is_shown_with_its_error():
    notice = Notice("court_found", "The court was found.")
    result = replace(invented_result(source="found"), warnings=(notice,))
    result = replace(result, court=replace(result.court, error_px=0.84))
    walker, text = walk(report_html(result, {}, False, np.zeros((90, 160, 3), np.uint8)))
    assert walker.tags.count("img") == 1 and "#court" in walker.links
    assert text.index("The court was found.") < text.index("The court, as it was found")
    assert "The blue lines must lie on the painted ones" in text
    assert "with an error of 0.8 pixels" in text


def test_a_hand_that_was_not_seen_for_sure_is_not_said_to_be_seen():
    player = replace(invented_player(), hand_confidence=0.6)
    _, text = walk(report_html(invented_result(player), {}, overlay=False))
    assert "in the right hand (assumed, not seen)" in text and "as seen in the clip" not in text


@pytest.fixture(scope="module")
def play():
    """The report of two rallies of play."""
    player = invented_defender()
    return report_html(invented_result(player), invented_pictures(player), overlay=True)


def test_a_report_of_play_goes_by_strokes_in_this_order(play):
    _, text = walk(play)
    parts = (
        "10 strokes faced: 7 met set, 2 on the move, 1 not seen well enough.",
        "What to do",
        "Over-side-on at 2 of 6 strokes met set",
        "too few to tell a habit from chance",
        "met set 7 of 10",
        "met on the move 2 of 10",
        "racket side in front at 1, back at 1",
        "racket foot in front by 10 to 40°; further is over-side-on 4 of 6, 67 %",
        "1 that could not be assessed. 2 serves are not counted.",
        "Stroke by stroke",
        "On the move is no fault of the measuring",
        "over-side-on, racket side back",
        "over-side-on, racket side in front",
        "contact feet down +0.12 s measured",
        "Both feet down 0.12 s after the contact; the first foot left 0.36 s after the contact.",
        "4.2 to 4.5 s (set for 0.24 s). Contact at 4.10",
        "serve, not counted",
        "feet down −0.82 s contact measured",
        "Waited, set, from 0.8 s before the contact; the first foot left 0.28 s after the contact.",
        "Met on the move: 2 of 10",
        "Not seen well enough: 1 of 10",
        "Where the player was set",
        "strokes of one rally resemble each other",
    )
    places = [text.index(part) for part in parts]
    assert places == sorted(places)
    assert "How long in each" not in text and "No stroke of the other side" not in text


def test_a_card_of_a_stroke_shows_contact_landing_and_key_frame(play):
    walker, _ = walk(play)
    assert walker.tags.count("article") == 9
    # Two examples, three for each of nine ready positions, one for each stroke met on the move.
    assert walker.tags.count("img") == 2 + 9 * 3 + 2
    assert play.count('alt="Ready position 2: the player at the contact"') == 1


def test_without_pictures_of_the_moments_a_card_shows_the_key_frame():
    player = invented_defender()
    keys = {k: v for k, v in invented_pictures(player).items() if k.moment == "key"}
    walker, text = walk(report_html(invented_result(player), keys, overlay=False))
    assert walker.tags.count("img") == 2 + 9
    assert "Both feet down 0.12 s after the contact" in text


def test_where_no_stroke_could_be_told_the_report_says_so(report):
    _, text = walk(report)
    assert "No stroke of the other side could be told, so each wait counts" in text
    assert "met set" not in text and "How long in each stance" in text


def test_strokes_all_met_on_the_move_are_a_report_of_their_own():
    player = invented_defender()
    moving = tuple(replace(s, met="on_the_move", ready_position=None) for s in player.strokes_faced)
    player = replace(
        player, ready_positions=(), strokes_faced=moving, shares=class_shares([]), own_strokes=()
    )
    _, text = walk(report_html(invented_result(player), {}, overlay=False))
    assert "10 strokes faced: none met set, 10 on the move." in text
    assert "Met on the move: 10 of 10" in text and "Stroke by stroke" in text
    assert "To work on" not in text and "Work on stopping" in text


def test_the_report_needs_nothing_from_outside(report):
    without_names = report.replace('xmlns="http://www.w3.org/2000/svg"', "")
    assert not re.search(
        r"https?:|//|@import|<script|<link|src=\"(?!data:)",
        re.sub(r"base64,[^\"]*", "", without_names),
    )


def test_a_players_name_is_text_and_nothing_else():
    name = '<b onclick="x">Anna & "Bo"'
    result = invented_result(invented_player(name), invented_player("B", "left"))
    html = report_html(result, {}, overlay=False)
    _, text = walk(html)
    assert name in text and "<b onclick" not in html
    assert "overlay.mp4" not in text


def test_two_players_each_have_their_part():
    result = invented_result(invented_player("A"), invented_player("B", "left"))
    walker, text = walk(report_html(result, {}, overlay=False))
    assert walker.tags.count("article") == 16 and "How often each stance: Player B" in text
    assert "Player B holds the racket in the left hand (as seen in the clip)" in text
    assert text.count("Please note") == 1


def test_what_is_unknown_is_said_to_be_not_known():
    player = replace(invented_player(), ready_positions=(UNKNOWN,), shares=class_shares([UNKNOWN]))
    html = report_html(invented_result(player), {}, overlay=False)
    _, text = walk(html)
    assert "Racket foot not known" in text and "no picture" in text
    assert not re.search(r"\bnan\b|\binf\b|\bNone\b", html)


@pytest.mark.parametrize("source", ["assumed", "found"])
def test_an_assumed_camera_shows_no_places(source):
    html = report_html(invented_result(source=source), {}, overlay=False)
    _, text = walk(html)
    known = source == "found"
    assert ("Where the player waited" in text) == known
    assert ("From the net" in text) == known and ("net, 4.2 m away" in text) == known
    assert ("so neither is the direction of the net" in text) != known


def test_an_assumed_camera_that_rests_on_a_word_says_so():
    result = invented_result(source="assumed")
    result = replace(result, court=replace(result.court, filmed_from="rear-left"))
    _, text = walk(report_html(result, {}, overlay=False))
    assert "that the phone stood in the corner behind the player on the left" in text


@pytest.mark.parametrize("anyone", [True, False])
def test_with_nothing_found_the_report_says_why(anyone):
    notice = Notice("nothing", "The player never waits.")
    players = (replace(invented_player(), ready_positions=(), shares=class_shares([])),)
    result = replace(invented_result(), players=players if anyone else (), warnings=(notice,))
    _, text = walk(report_html(result, {}, overlay=False))
    sentence = "No ready position was found." if anyone else "No player was found"
    assert text.index(sentence) < text.index("The player never waits.")
    assert "%" not in text.split("What the stances mean")[0]


def test_the_coachs_own_limits_are_the_ones_explained():
    settings = {"square_deg": 12.5, "side_on_deg": 35.0, "confidence": 0.7}
    _, text = walk(report_html(replace(invented_result(), settings=settings), {}, overlay=False))
    assert "within about 12.5° of" in text and "more than about 35°" in text
    assert "No stance reaches 70 %" in text


def test_twenty_busy_pictures_stay_below_3_megabytes():
    busy = np.random.default_rng(0).integers(0, 256, (720, 600, 3), dtype=np.uint8)
    player = replace(invented_player(), ready_positions=(invented_position(),) * 20)
    pictures = {PictureKey("A", number): busy for number in range(1, 21)}
    assert (
        len(report_html(invented_result(player), pictures, overlay=False, court_picture=busy))
        < 3_000_000
    )
    for moment in ("contact", "landing"):
        pictures |= {PictureKey("A", number, moment): busy for number in range(1, 21)}
    strokes = tuple(StrokeFaced(float(n), 0.1, met="set", ready_position=n) for n in range(20))
    played = replace(player, strokes_faced=strokes)
    assert len(report_html(invented_result(played), pictures, overlay=False)) < 3_000_000


def test_the_report_is_written_into_the_folder(tmp_path):
    write_report(invented_result(), {}, tmp_path / "out", overlay=False)
    assert [file.name for file in (tmp_path / "out").iterdir()] == ["report.html"]
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError):
        write_report(invented_result(), {}, tmp_path / "file", overlay=False)
