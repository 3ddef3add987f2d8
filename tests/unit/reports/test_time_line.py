"""The time line: each ready position in its place, with a link to its card."""

from dataclasses import replace
from xml.etree import ElementTree

import pytest

from stance.reports.time_line import time_line
from tests.unit.results.invented import invented_player, invented_position


def test_the_time_line_links_each_ready_position_to_its_card():
    player = invented_player("<b>&")
    root = ElementTree.fromstring(time_line(player, 22.0, "player-1"))
    links = [e.get("href") for e in root.iter() if e.tag.endswith("}a")]
    assert list(dict.fromkeys(links)) == [f"#player-1-{number}" for number in range(1, 9)]
    assert root.get("aria-label") == "Time line of player <b>&: 8 ready positions"


@pytest.mark.parametrize("duration", [0.0, 0.9, 20.0, 61.0, 3600.0])
def test_a_time_line_of_any_length_holds_its_bars(duration):
    positions = tuple(
        invented_position(start_s=duration * part, end_s=duration * (part + 0.1))
        for part in (0.0, 0.45, 0.9)
    )
    player = replace(invented_player(), ready_positions=positions)
    root = ElementTree.fromstring(time_line(player, duration, "p"))
    assert float(root.get("height")) <= 12 * 78
    for bar in root.iter("{http://www.w3.org/2000/svg}rect"):
        if "%" in bar.get("width") and bar.get("x") != "0":
            begin, width = (float(bar.get(name).rstrip("%")) for name in ("x", "width"))
            assert begin >= 0 and begin + width <= 100.5 and width >= 0
