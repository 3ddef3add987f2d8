"""The plan of the court: every known place, none hidden by another."""

from dataclasses import replace

import numpy as np

from stance.reports.court_map import court_map, spread_labels
from tests.unit.reports.svg import texts
from tests.unit.results.invented import UNKNOWN, invented_player


def test_the_court_map_holds_every_known_place():
    player = invented_player()
    player = replace(player, ready_positions=(*player.ready_positions, UNKNOWN))
    svg = court_map(player)
    assert texts(svg) == ["net", *map(str, range(1, 9))]


def test_marks_at_one_place_are_drawn_apart():
    spread = spread_labels(np.full((6, 2), 100.0), 20.0, (0, 0, 200, 200))
    apart = np.hypot(*(spread[:, None] - spread[None]).transpose(2, 0, 1))
    assert apart[~np.eye(6, dtype=bool)].min() > 15
