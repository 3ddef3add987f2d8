"""The result file against its schema, and the table for a spreadsheet."""

import csv
import io
import json
import math
from dataclasses import replace

import numpy as np
import pytest

from stance.errors import InputError, OutputError
from stance.results.csv_format import positions_csv
from stance.results.files import write_files
from stance.results.json_format import from_json, json_text, read_result, to_json
from stance.results.model import (
    ClipSummary,
    CourtSummary,
    FloorContact,
    Notice,
    PlayerResult,
    ReadyPosition,
    Result,
)
from stance.results.writing import write_result
from stance.statistics.shares import class_shares
from stance.statistics.statement import clip_statement
from stance.types import CLASSES

# Start and end in seconds, lead angle, hip yaw, probabilities in the order of CLASSES.
SPELLS = (
    (0.8, 1.9, -4.0, -6.0, (0.96, 0.04, 0.0)),
    (3.1, 4.0, -22.0, -15.0, (0.03, 0.97, 0.0)),
    (5.6, 6.9, -52.0, -47.0, (0.0, 0.04, 0.96)),
    (8.0, 8.7, 48.0, 55.0, (0.0, 0.0, 1.0)),
    (10.4, 11.6, -9.5, -11.0, (0.52, 0.48, 0.0)),
    (13.2, 14.0, -30.0, -62.0, (0.0, 0.11, 0.89)),
    (16.1, 17.3, 18.0, 9.0, (0.82, 0.10, 0.08)),
    (19.0, 20.6, -18.0, -8.0, (0.21, 0.79, 0.0)),
)
PLACES = (
    (1.5, -4.2),
    (1.6, -4.1),
    (1.1, -4.6),
    (-0.9, -3.7),
    (1.5, -4.3),
    (2.1, -5.0),
    (-1.4, -4.0),
    (1.45, -4.15),
)


def invented_position(
    lead_deg=-16.0, hip_deg=-7.0, place=(1.5, -4.2), hand="right", **fields
) -> ReadyPosition:
    """A right- or left-hander 0.7 m wide at a place, with the angles asked for."""
    side = 1.0 if hand == "right" else -1.0
    base = np.array(place)

    def pair(angle_deg, half_length):
        angle = math.radians(angle_deg)
        half = half_length * np.array([side * math.cos(angle), math.sin(angle)])
        return base + half, base - half

    feet = []
    for middle, outwards in zip(pair(lead_deg, 0.35), (side, -side), strict=True):
        half = 0.12 * np.array([0.35 * outwards, 0.94])
        feet.append(FloorContact(tuple((middle - half).tolist()), tuple((middle + half).tolist())))
    known = dict(
        start_s=0.4,
        end_s=1.3,
        start_frame=12,
        end_frame=39,
        key_frame=25,
        hip_yaw_deg=hip_deg,
        hip_yaw_se_deg=6.0,
        shoulder_yaw_deg=hip_deg - 3,
        shoulder_yaw_se_deg=7.0,
        lead_angle_deg=lead_deg,
        lead_angle_se_deg=2.6,
        foot_stagger_m=0.7 * math.sin(math.radians(lead_deg)),
        foot_stagger_se_m=0.03,
        stance_width_m=0.7,
        stance_width_se_m=0.02,
        stance_width_hips=2.8,
        stance_width_legs=0.85,
        knee_flexion_deg=(41.0, 44.0),
        knee_flexion_se_deg=(6.0, 6.0),
        base_m=place,
        base_se_m=(0.03, 0.05),
        stance_class="slightly_racket_leg_back",
        probabilities=dict(zip(CLASSES, (0.08, 0.91, 0.01), strict=True)),
        feet=tuple(feet),
        hips_m=tuple(tuple(hip.tolist()) for hip in pair(hip_deg, 0.13)),
    )
    return ReadyPosition(**{**known, **fields})


def invented_player(name="A", hand="right") -> PlayerResult:
    """Eight ready positions of all classes, one of them not assessed."""
    positions = []
    for (start, end, lead, hip, chances), place in zip(SPELLS, PLACES, strict=True):
        likeliest = CLASSES[int(np.argmax(chances))]
        positions.append(
            invented_position(
                lead,
                hip,
                place,
                hand,
                start_s=start,
                end_s=end,
                start_frame=round(30 * start),
                end_frame=round(30 * end),
                key_frame=round(15 * (start + end)),
                stance_class=likeliest if max(chances) >= 0.6 else "not_assessed",
                probabilities=dict(zip(CLASSES, chances, strict=True)),
                remarks=("racket foot leading",) if 10 < lead <= 40 else (),
            )
        )
    return PlayerResult(name, "near", hand, "seen", tuple(positions), class_shares(positions), 600)


def invented_result(*players: PlayerResult, source="marked") -> Result:
    """A clip of 22 seconds with the players given, or one invented player."""
    players = players or (invented_player(),)
    return Result(
        clip=ClipSummary("drill.mp4", "ab" * 32, 22.0, 660, 30.0, (1280, 720)),
        court=CourtSummary(
            source,
            1.2 if source == "marked" else None,
            ((950.0, 0.0, 640.0), (0.0, 950.0, 360.0), (0.0, 0.0, 1.0)),
            ((1.0, 0.0, 0.0), (0.0, -0.2, -0.98), (0.0, 0.98, -0.2)),
            (0.0, 1.0, 9.0),
        ),
        players=players,
        warnings=(Notice("hand_unsure", "Which hand holds the racket could not be seen."),),
        statement=clip_statement(players),
        settings={"square_deg": 10.0, "side_on_deg": 40.0, "confidence": 0.6},
    )


UNKNOWN = invented_position(
    float("nan"),
    float("nan"),
    (float("nan"), float("nan")),
    knee_flexion_deg=(float("nan"), 44.0),
    stance_class="not_assessed",
)


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


def test_a_result_comes_back_from_its_file_as_it_was(tmp_path):
    result = invented_result()
    write_result(result, tmp_path / "new" / "folder")
    assert read_result(tmp_path / "new" / "folder") == result
    assert read_result(tmp_path / "new" / "folder" / "result.json") == result


def test_a_bent_lens_travels_with_the_court_and_a_file_without_it_has_a_straight_one():
    result = invented_result()
    bent = replace(result, court=replace(result.court, distortion=-0.04))
    data = json.loads(json_text(bent))
    assert data["court"]["camera"]["distortion"] == -0.04
    assert from_json(data) == bent
    del data["court"]["camera"]["distortion"]
    assert from_json(data).court.distortion == 0.0


def test_what_is_unknown_is_null_in_json_and_nan_when_read():
    player = replace(invented_player(), ready_positions=(UNKNOWN,), shares=class_shares([UNKNOWN]))
    text = json_text(invented_result(player))
    position = json.loads(text)["players"][0]["ready_positions"][0]
    assert position["hip_yaw_deg"] is None and position["knee_flexion_deg"] == [None, 44.0]
    assert "NaN" not in text and "Infinity" not in text
    read = from_json(json.loads(text)).players[0].ready_positions[0]
    assert math.isnan(read.lead_angle_deg) and math.isnan(read.base_m[0])


def test_numpy_numbers_are_written_as_numbers():
    settings = {"a": np.float64(0.5), "b": np.arange(2), "c": np.float32("inf")}
    assert to_json(replace(invented_result(), settings=settings))["settings"] == {
        "a": 0.5,
        "b": [0, 1],
        "c": None,
    }


def test_a_result_without_a_camera_says_null():
    court = CourtSummary("assumed", None, (), (), ())
    result = replace(invented_result(), court=court, players=())
    data = to_json(result)
    assert data["court"] == {"source": "assumed", "error_px": None, "camera": None}
    assert from_json(data) == result


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
    read = from_json(data).players[0].ready_positions[0]
    assert read.key_frame == (read.start_frame + read.end_frame) // 2
    assert math.isnan(read.feet[0].heel_m[0])


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (None, "There is no result file"),
        ("", "no JSON"),
        ("\x00\xff", "no JSON"),
        ("[]", "schema is None"),
        ('{"schema": "stance-result/9"}', "'stance-result/9'"),
        ('{"schema": "stance-result/1"}', "no field 'clip'"),
        ('{"schema": "stance-result/1", "clip": 3, "court": 4}', "not of the right kind"),
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
    with pytest.raises(InputError, match="right kind"):
        from_json(data)


def test_the_table_has_a_row_per_ready_position():
    text = positions_csv(invented_result(invented_player("A"), invented_player("Ødegård, B")))
    rows = list(csv.DictReader(io.StringIO(text)))
    assert len(rows) == 16
    assert rows[8]["player"] == "Ødegård, B" and rows[8]["ready position"] == "1"
    assert rows[1]["class"] == "slightly racket-leg-back"
    assert rows[1]["lead angle in degrees (negative: racket foot back)"] == "-22.0"
    assert rows[1]["probability of slightly racket-leg-back"] == "0.970"
    assert rows[6]["remarks"] == "racket foot leading"


def test_what_is_unknown_is_an_empty_cell():
    player = replace(invented_player(), ready_positions=(UNKNOWN,))
    (row,) = csv.DictReader(io.StringIO(positions_csv(invented_result(player))))
    assert row["lead angle in degrees (negative: racket foot back)"] == ""
    assert "nan" not in "".join(row.values()).lower()


def test_a_failed_write_leaves_what_was_there(tmp_path):
    write_files(tmp_path, {"a.txt": "old", "b.txt": "old"})
    with pytest.raises(UnicodeEncodeError):
        write_files(tmp_path, {"a.txt": "new", "b.txt": "\ud800"})
    assert (tmp_path / "a.txt").read_text() == "old"
    assert sorted(file.name for file in tmp_path.iterdir()) == ["a.txt", "b.txt"]


def test_ctrl_c_while_writing_leaves_what_was_there(tmp_path, monkeypatch):
    write_files(tmp_path, {"a.txt": "old"})

    def interrupt(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr("stance.results.files.os.replace", interrupt)
    with pytest.raises(KeyboardInterrupt):
        write_files(tmp_path, {"a.txt": "new"})
    assert [(f.name, f.read_text()) for f in tmp_path.iterdir()] == [("a.txt", "old")]


def test_a_folder_that_can_not_be_made_gets_a_sentence(tmp_path):
    (tmp_path / "taken").write_text("a file")
    with pytest.raises(OutputError, match="taken"):
        write_result(invented_result(), tmp_path / "taken" / "folder")
