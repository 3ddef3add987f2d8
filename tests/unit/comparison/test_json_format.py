"""comparison.json has the fields of its schema."""

import json
from dataclasses import replace

import msgspec
import numpy as np

from stance.comparison.compare import compare
from stance.comparison.json_format import ComparisonContent, to_content
from stance.results.model import StrokeFaced
from stance.results.schema import json_text
from stance.types import CLASSES
from tests.unit.comparison.invented_sets import draw_sets
from tests.unit.invented import drawn_result


def lay_out(comparison):
    """What the file holds."""
    return json.loads(json_text(to_content(comparison)))


def test_the_file_has_the_fields_of_the_schema():
    data = lay_out(compare(*draw_sets(9, 1)))
    of_player = [
        "classes",
        "racket_foot_leading",
        "racket_side_leading",
        "strokes_faced",
        "met_set",
        "measures",
        "statement",
        "advice",
        "warnings",
    ]
    assert list(data) == ["schema", *of_player, "players"]
    assert data["schema"] == "stance-comparison/1"
    assert list(data["classes"]) == list(CLASSES)
    for change in (*data["classes"].values(), data["racket_foot_leading"]):
        assert list(change) == [
            "before",
            "after",
            "difference",
            "interval",
            "verdict",
            "more_needed",
            "method",
        ]
        for side in ("before", "after"):
            assert list(change[side]) == ["count", "assessed", "share", "interval", "effective"]
    lead = data["measures"]["lead_angle_deg"]
    assert isinstance(lead["before"], float) and isinstance(lead["after"], float)
    assert lead["interval"][0] <= lead["difference"] <= lead["interval"][1]
    assert data["statement"] and data["warnings"] == []
    (player,) = data["players"]
    assert player == {"player": "J-07"} | {name: data[name] for name in of_player}


def test_strokes_and_leading_sides_are_counted_on_both_sides():
    before, after = draw_sets(9, 1)
    strokes = tuple(StrokeFaced(2.0 * n, 0.1, met=m) for n, m in enumerate(("set", "on_the_move")))
    before = [
        replace(r, players=tuple(replace(p, strokes_faced=strokes) for p in r.players))
        for r in before
    ]
    data = lay_out(compare(before, after))
    assert data["strokes_faced"]["before"] == {
        "met_set": 3,
        "on_the_move": 3,
        "not_seen": 0,
        "serves": 0,
    }
    assert set(data["strokes_faced"]["after"].values()) == {0}
    assert data["racket_side_leading"] == {"before": 0, "after": 0}
    assert data["statement"].endswith(
        "Strokes met set: 3 of 6 before; after, no stroke could be told."
    )


def test_what_is_written_can_be_read_by_the_schema():
    content = to_content(compare(*draw_sets(9, 1)))
    assert msgspec.json.decode(json_text(content), type=ComparisonContent) == content


def test_a_group_has_a_p_value_and_its_players_none():
    random = np.random.default_rng(3)
    results = [drawn_result(random, n, 10, p) for n, p in ((9, "A"), (8, "B"), (2, "A"), (3, "B"))]
    data = lay_out(compare(results[:2], results[2:]))
    assert 0 < data["classes"]["over_side_on"]["p_value"] < 1
    assert [p["player"] for p in data["players"]] == ["A", "B"]
    assert all("p_value" not in p["classes"]["over_side_on"] for p in data["players"])


def test_what_is_not_known_is_null():
    before, after = draw_sets(9, 1)
    lost = [
        replace(r, players=tuple(replace(p, ready_positions=()) for p in r.players)) for r in after
    ]
    data = lay_out(compare(before, lost))
    over = data["classes"]["over_side_on"]
    assert over["difference"] is None and over["after"]["share"] is None
    assert data["measures"]["hip_yaw_deg"]["difference"] is None
