"""The page of a comparison says what the numbers say."""

import re
from dataclasses import replace
from urllib.parse import unquote

import numpy as np

from stance.assessment.picture_key import PictureKey
from stance.comparison.clip_reports import ClipReports
from stance.comparison.compare import compare
from stance.comparison.page import comparison_html
from stance.reports.clip import report_html
from tests.unit.comparison.invented_sets import draw_sets
from tests.unit.invented import drawn_result
from tests.unit.page_text import read_page


def test_counts_verdicts_and_limits_are_on_the_page():
    text = read_page(comparison_html(compare(*draw_sets(9, 1))))
    for words in (
        "27 of 36 75 %, likely",
        "better",
        "Keep what the block trained",
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
    html = comparison_html(comparison)
    text = read_page(html)
    folds = re.findall(r'<summary>(\S+) <span class="call ">(.*?)</span>', html)
    assert folds == [("A-1", "too few to tell"), ("B-2", "too few to tell")]
    assert "How often each player was over-side-on" in text
    assert text.count("racket foot in front") == 2 and text.count("Feet, on average") == 3
    for change in comparison.players:
        assert change.player in text and all(s in text for s in change.sentences)


def test_a_page_with_nothing_assessed_is_whole():
    before, after = draw_sets(9, 1)
    lost = [
        replace(r, players=tuple(replace(p, ready_positions=()) for p in r.players)) for r in after
    ]
    text = read_page(comparison_html(compare(before, lost)))
    assert "none could be assessed after" in text and "none assessed" in text


def test_the_heading_has_name_dates_and_sessions():
    sets = [
        [replace(r, date=f"2026-0{month}-0{n}", session=name) for n, r in enumerate(results, 1)]
        for results, month, name in zip(draw_sets(9, 1), (1, 3), ("winter", "spring"), strict=True)
    ]
    text = read_page(comparison_html(compare(*sets)))
    assert text.startswith(
        "Before and after: J-07 Before: 3 clips, 2026-01-01 to 2026-01-03, winter · After: 3 "
        "clips, 2026-03-01 to 2026-03-03, spring"
    )


def test_names_are_escaped():
    results = [
        drawn_result(np.random.default_rng(n), 3, 12, "<b>Ann", certain=True) for n in (1, 2)
    ]
    html = comparison_html(compare(results[:1], results[1:]))
    assert "<b>Ann" not in html and "<b>Ann" in read_page(html)


def test_the_words_are_those_of_coaches_and_no_p_value_is_shown():
    text = read_page(comparison_html(compare(*draw_sets(9, 1, certain=False))))
    for word in ("lead angle", "hip yaw", "leading", "interval", "p-value", "p =", "−"):
        assert word not in text
    assert "° back" in text and "percentage points less" in text


def test_a_change_shown_is_that_of_the_shares_shown():
    text = read_page(comparison_html(compare(*draw_sets(7, 2, clips=1, size=17))))
    match = re.search(
        r"over-side-on 7 of 17 (\d+) %.*?2 of 17 (\d+) %.*?(\d+) percentage points less",
        text,
    )
    before, after, points = map(int, match.groups())
    assert before - after == points


def test_typical_stances_are_shown_beside_each_other_and_lead_to_their_reports(tmp_path):
    before, after = draw_sets(12, 0)
    folders = {}
    for number, result in enumerate([*before, *after]):
        folder = tmp_path / "results" / f"clip {number}"
        folder.mkdir(parents=True)
        pictures = {PictureKey("A", n): np.zeros((9, 6, 3), np.uint8) for n in range(1, 13)}
        (folder / "report.html").write_text(report_html(result, pictures, overlay=False))
        folders[result.clip.sha256] = folder
    comparison = compare(before, after)
    html = comparison_html(comparison, ClipReports(folders, tmp_path / "page"))
    assert html.count('<img src="data:image/jpeg;picture=') >= 2
    text = " ".join(re.sub("<[^>]+>", " ", html).split())
    assert re.search(r"Before over-side-on , 36 of 36 feet \d+° (back|in front), hips \d+°", text)
    links = re.findall(r'href="(\.\./results/clip%20\d/report\.html(?:#player-1-\d+)?)"', html)
    assert {*map(unquote, links)} >= {f"../results/clip {n}/report.html" for n in range(6)}
    anchored = [link for link in links if "#" in link]
    for link in anchored:
        file, anchor = unquote(link).removeprefix("../").split("#")
        assert f'id="{anchor}"' in (tmp_path / file).read_text()
    assert anchored
