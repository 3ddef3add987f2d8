"""The page of a season says what the numbers say."""

import numpy as np

from stance.comparison.season import SeasonClip
from stance.comparison.season_page import describe_season, season_html
from stance.results.model import StrokeFaced
from tests.unit.comparison.invented_sets import draw_sets
from tests.unit.invented import drawn_result
from tests.unit.page_text import read_page

DATES = ("2026-01-05", "2026-01-12", "2026-03-02", "2026-03-09")


def follow(*counts, dates=DATES, **fields):
    """Clips of a player with so many over-side-on of 14 positions."""
    random = np.random.default_rng(0)
    results = [drawn_result(random, count, 14, certain=True, **fields) for count in counts]
    return [SeasonClip(d, r, r.players[0]) for d, r in zip(dates, results, strict=False)]


def test_a_player_who_gets_better_has_a_line_and_the_counts_of_each_date():
    html = season_html({"Ida": follow(13, 12, 1, 1)})
    text = read_page(html)
    for words in (
        "Over the season: Ida",
        "Better over the season: over-side-on in 25 of 28 ready positions on the earlier dates, 2 "
        "of 28 on the later ones.",
        "less often later",
        "The coach decides",
    ):
        assert words in text
    assert all(date in text for date in DATES) and "13 of 14 93 %, likely" in text
    assert html.count('style="stroke:var(--faint,#5d6875);stroke-width:1.5"') >= 3


def test_several_players_have_a_part_each_and_strokes_met_set_a_column():
    clips = follow(3, 3)
    assert "strokes met set" not in read_page(season_html({"Ida": clips}))
    faced = tuple(StrokeFaced(2.0 * n, 0.1, met="set") for n in range(4))
    seen = [
        SeasonClip(c.date, c.result, type(c.player)(**(vars(c.player) | {"strokes_faced": faced})))
        for c in clips
    ]
    text = read_page(season_html({"Ida": seen, "Uma": follow(5)}))
    assert "2 players" in text and "strokes met set" in text and "4 of 4 100 %" in text
    assert "Two dates with ready positions are needed" in text


def test_without_dates_there_is_no_line():
    text = read_page(season_html({"Ida": follow(3, 3, dates=("", ""))}))
    assert "Two dates" in text and "How often over-side-on" not in text


def test_nothing_is_called_better_by_chance():
    before, after = draw_sets(3, 2, clips=1, size=6)
    assert describe_season(None).startswith("Two dates")
    clips = [SeasonClip(d, r, r.players[0]) for d, r in zip(DATES, [*before, *after], strict=False)]
    assert "Too few ready positions to tell a change" in read_page(season_html({"J": clips}))
