"""Players whom the roster names together in a clip are a pair."""

from dataclasses import replace

import numpy as np

from stance.academy.jobs import Job, Outcome
from stance.academy.json_format import to_content
from stance.academy.page import screening_html
from stance.academy.pairs import list_pairs
from stance.academy.roster import Row
from tests.unit.academy.invented_academy import screen_invented, screen_rows
from tests.unit.invented import drawn_result
from tests.unit.page_text import read_page


def screen_pair():
    """Two clips of Uma and Ida, and one of Uma alone."""
    random = np.random.default_rng(1)
    rows, outcomes = [], {}
    for number in range(2):
        near, other = (drawn_result(random, n, 12, certain=True) for n in (9, 2))
        partner = replace(other.players[0], player="B", frames_seen=100)
        result = replace(near, players=(near.players[0], partner))
        for name, letter, hand in (("Uma", "A", "right"), ("Ida", "B", None)):
            job = Job(f"pair {number}.mp4", hand=hand)
            outcomes[job] = Outcome(job, f"k{number}{hand}", result)
            rows.append(Row(2, name, job, letter=letter))
    alone = Job("alone.mp4")
    outcomes[alone] = Outcome(alone, "k2", drawn_result(random, 12, 12, certain=True))
    return screen_rows([*rows, Row(6, "Uma", alone)], outcomes)


def test_a_pair_has_the_counts_of_the_clips_that_show_both():
    screening = screen_pair()
    (pair,) = list_pairs(screening.players)
    assert pair.clips == 2
    found = [(p.player.player, p.over_side_on, p.assessed) for p in pair.players]
    assert found == [("Ida", 4, 24), ("Uma", 18, 24)]


def test_pairs_are_rows_of_the_page_and_of_the_file():
    screening = screen_pair()
    text = read_page(screening_html(screening))
    assert "Ida · Uma 2 4 of 24 · 18 of 24" in text
    (pair,) = to_content(screening).pairs
    assert [p.player for p in pair.players] == ["Ida", "Uma"]


def test_players_of_clips_of_their_own_are_none():
    screening = screen_invented({"A": [(3, 12, "")], "B": [(3, 12, "")]})
    assert list_pairs(screening.players) == [] and "Pairs" not in screening_html(screening)
