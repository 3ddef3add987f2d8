"""screening.json has the fields of its schema."""

import json

import msgspec
import pytest

from stance.academy.flags import FALSE_DISCOVERIES, HABIT_SHARE, RULED_OUT_SHARE
from stance.academy.json_format import ScreeningContent, to_content
from stance.academy.statement import describe_screening
from stance.results.schema import json_text
from tests.unit.academy.invented_academy import screen_invented


@pytest.fixture(scope="module")
def screening():
    return screen_invented(
        {"S": [(13, 14, "2026-01-05"), (12, 14, "2026-02-05")], "N": [(1, 14, "")]},
        failing=["Broken."],
    )


def test_the_file_has_the_fields_of_the_schema(screening):
    data = json.loads(json_text(to_content(screening)))
    assert list(data) == [
        "schema",
        "statement",
        "settings",
        "players",
        "pairs",
        "age_groups",
        "failed",
        "warnings",
    ]
    assert data["schema"] == "stance-screening/1"
    assert data["statement"] == describe_screening(screening)
    assert data["settings"] == {
        "habit_share": HABIT_SHARE,
        "ruled_out_share": RULED_OUT_SHARE,
        "false_discoveries": FALSE_DISCOVERIES,
    }
    assert data["failed"] == [{"clip": "Broken..mp4", "reason": "Broken."}]
    assert [g["name"] for g in data["age_groups"]] == ["U13"]


def test_a_player_has_shares_dates_trend_and_results(screening):
    first, second, last = json.loads(json_text(to_content(screening)))["players"]
    over = first["over_side_on"]
    assert over["share"] == pytest.approx(over["count"] / first["assessed"])
    assert set(first["measures"]) == {"lead_angle_deg", "hip_yaw_deg"}
    assert [d["date"] for d in first["dates"]] == ["2026-01-05", "2026-02-05"]
    assert set(first["trend"]) == {"verdict", "difference", "interval"}
    assert len(first["clips"]) == 2
    assert first["results"] == [f"kept/{clip.key}" for clip in screening.players[0].clips]
    assert second["trend"] is None and second["flag"] == screening.players[1].flag
    assert last["p_value"] is None and last["over_side_on"]["share"] is None


def test_what_is_written_can_be_read_by_the_schema(screening):
    content = to_content(screening)
    assert msgspec.json.decode(json_text(content), type=ScreeningContent) == content
