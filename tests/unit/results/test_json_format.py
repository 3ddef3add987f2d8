"""The result file against its schema."""

import json
import math
import re
from dataclasses import replace

import numpy as np
import pytest

from stance.errors import InputError
from stance.results.json_format import read_result, result_text, to_json
from stance.results.model import CourtSummary, OwnStroke, StrokeFaced
from stance.statistics.shares import class_shares
from stance.types import CLASSES
from tests.paths import ROOT
from tests.unit.results.invented import UNKNOWN, invented_player, invented_result, parse_result


def test_the_json_has_the_fields_of_the_schema():
    data = to_json(invented_result())
    assert data["schema"] == "stance-result/1"
    assert set(data) >= {"clip", "court", "players", "warnings"}
    assert set(data["clip"]) >= {"file", "sha256", "duration_s", "frames", "frame_rate", "size"}
    assert set(data["court"]["camera"]) == {"K", "R", "t"}
    player = data["players"][0]
    assert (player["assessed"], player["not_assessed"]) == (7, 1)
    position = player["ready_positions"][0]
    assert position["class"] == "square" and "stance_class" not in position
    assert set(position) >= {
        "start_s",
        "end_s",
        "start_frame",
        "end_frame",
        "hip_yaw_deg",
        "hip_yaw_se_deg",
        "shoulder_yaw_deg",
        "lead_angle_deg",
        "lead_angle_se_deg",
        "foot_stagger_m",
        "foot_stagger_se_m",
        "stance_width_m",
        "knee_flexion_deg",
        "base_m",
        "probabilities",
        "remarks",
    }
    assert set(player["shares"]) == set(CLASSES)
    assert set(player["shares"]["square"]) == {
        "count",
        "share",
        "interval",
        "time_share",
        "time_interval",
    }


def test_a_bent_lens_travels_with_the_court_and_a_file_without_it_has_a_straight_one():
    result = invented_result()
    bent = replace(
        result, court=replace(result.court, camera=replace(result.court.camera, distortion=-0.04))
    )
    data = json.loads(result_text(bent))
    assert data["court"]["camera"]["distortion"] == -0.04
    assert parse_result(data) == bent
    del data["court"]["camera"]["distortion"]
    assert parse_result(data).court.camera.distortion == 0.0


def test_strokes_come_back_and_a_file_without_them_has_none():
    strokes = (
        StrokeFaced(0.9, 0.03, ("seen", "heard"), True, "set", 0, 27),
        StrokeFaced(2.4, 0.1, ("moved",), False, "on_the_move"),
    )
    player = replace(invented_player(), strokes_faced=strokes, own_strokes=(OwnStroke(1.6, 0.05),))
    result = invented_result(player)
    data = json.loads(result_text(result))
    assert parse_result(data) == result
    del data["players"][0]["strokes_faced"], data["players"][0]["own_strokes"]
    old = parse_result(data).players[0]
    assert (old.strokes_faced, old.own_strokes) == ((), ())


def test_a_stroke_has_the_fields_that_other_programs_rely_on_and_they_are_enough_to_read():
    stroke = StrokeFaced(0.93, 0.03, ("seen", "heard"), False, "on_the_move", None, 28)
    data = to_json(invented_result(replace(invented_player(), strokes_faced=(stroke,))))
    written = data["players"][0]["strokes_faced"][0]
    relied_on = {
        "contact_s": 0.93,
        "contact_se_s": 0.03,
        "contact_frame": 28,
        "known_by": "seen",
        "serve": False,
        "state": "on_the_move",
        "ready_position": None,
    }
    assert written.items() >= relied_on.items()
    data["players"][0]["strokes_faced"] = [relied_on]
    assert parse_result(data).players[0].strokes_faced == (replace(stroke, known_by=()),)


def test_the_fields_of_a_stroke_are_those_that_the_definitions_name():
    text = (ROOT / "docs" / "definitions.md").read_text(encoding="utf-8")
    section = text[text.index("## Fields of a stroke faced") : text.index("## Stance classes")]
    named = re.findall(r"^\| `(\w+)` \|", section, re.MULTILINE)
    player = replace(
        invented_player(),
        strokes_faced=(StrokeFaced(1.0, 0.1),),
        own_strokes=(OwnStroke(2.0, 0.1),),
    )
    data = to_json(invented_result(player))["players"][0]
    assert set(named) == set(data["strokes_faced"][0])
    assert set(data["own_strokes"][0]) == {"contact_s", "contact_se_s"}


def test_what_is_unknown_is_null_in_json_and_nan_when_read():
    player = replace(invented_player(), ready_positions=(UNKNOWN,), shares=class_shares([UNKNOWN]))
    text = result_text(invented_result(player))
    position = json.loads(text)["players"][0]["ready_positions"][0]
    assert position["hip_yaw_deg"] is None and position["knee_flexion_deg"] == [None, 44.0]
    assert "NaN" not in text and "Infinity" not in text
    read = parse_result(json.loads(text)).players[0].ready_positions[0]
    assert math.isnan(read.lead_angle_deg) and math.isnan(read.base_m[0])


def test_numpy_numbers_are_written_as_numbers():
    settings = {"a": np.float64(0.5), "b": np.arange(2), "c": np.float32("inf")}
    assert to_json(replace(invented_result(), settings=settings))["settings"] == {
        "a": 0.5,
        "b": [0, 1],
        "c": None,
    }


def test_a_result_without_a_camera_says_null():
    court = CourtSummary("assumed", None, None)
    result = replace(invented_result(), court=court, players=())
    data = to_json(result)
    assert data["court"] == {
        "source": "assumed",
        "error_px": None,
        "camera": None,
        "filmed_from": None,
    }
    assert parse_result(data) == result


def test_what_an_assumed_camera_rests_on_is_kept():
    court = CourtSummary("assumed", None, None, "rear-left")
    result = replace(invented_result(), court=court, players=())
    data = to_json(result)
    assert data["court"]["filmed_from"] == "rear-left"
    assert parse_result(data) == result


def test_the_fields_that_the_schema_names_are_enough_to_read():
    data = to_json(invented_result())
    position = data["players"][0]["ready_positions"][0]
    for added in (
        "key_frame",
        "shoulder_yaw_se_deg",
        "stance_width_se_m",
        "stance_width_hips",
        "stance_width_legs",
        "knee_flexion_se_deg",
        "base_se_m",
        "feet",
        "hips_m",
    ):
        del position[added]
    del data["players"][0]["shares"]["square"]["time_interval"], data["settings"]
    read = parse_result(data).players[0].ready_positions[0]
    assert read.key_frame == (read.start_frame + read.end_frame) // 2
    assert math.isnan(read.feet[0].heel_m[0])


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (None, "There is no result file"),
        ("", "not JSON text"),
        ("\x00\xff", "not JSON text"),
        ("[]", "schema is None"),
        ('{"schema": "stance-result/9"}', "'stance-result/9'"),
        ('{"schema": "stance-result/1"}', 'no field "clip"'),
        (
            '{"schema": "stance-result/1", "clip": 3, "court": 4}',
            'field "clip" must be an object, not a whole number',
        ),
    ],
)
def test_what_is_no_result_gets_a_sentence(tmp_path, content, sentence):
    file = tmp_path / "result.json"
    if content is not None:
        file.write_text(content, encoding="latin-1")
    with pytest.raises(InputError, match="result.json") as problem:
        read_result(file)
    assert sentence in str(problem.value)


def test_an_unknown_class_is_refused():
    data = to_json(invented_result())
    data["players"][0]["ready_positions"][0]["class"] = "sideways"
    with pytest.raises(InputError, match=r"ready_positions\[0\]\.class\" can't be 'sideways'"):
        parse_result(data)
