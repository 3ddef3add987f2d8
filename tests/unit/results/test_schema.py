"""JSON files read by a schema: what fits comes back, what does not gets a sentence."""

import json
import math
from dataclasses import dataclass, field
from typing import Literal

import msgspec
import numpy as np
import pytest

from stance.errors import InputError
from stance.results.schema import json_text, read_json


@dataclass(frozen=True)
class Drill:
    name: str
    leg: Literal["racket", "other"]
    pause_s: float
    best_s: float | None = None


@dataclass(frozen=True)
class Plan:
    drills: tuple[Drill, ...]
    size: tuple[int, int] = (2, 3)
    notes: dict[str, float] = field(default_factory=dict)


def write(tmp_path, text):
    """A plan's file with a text as it stands, in Latin-1."""
    file = tmp_path / "plan.json"
    file.write_bytes(text.encode("latin-1"))
    return file


def test_what_fits_comes_back_and_the_rest_is_ignored(tmp_path):
    file = write(
        tmp_path,
        '{"schema": "plan/1", "more": {}, "size": [4, 5], "notes": {"a": 1},'
        ' "drills": [{"name": "J-07", "leg": "other", "pause_s": 2, "colour": "red"}]}',
    )
    plan = read_json(file, Plan, "plan", "plan/1")
    assert plan == Plan((Drill("J-07", "other", 2.0),), (4, 5), {"a": 1.0})


def test_null_is_an_unknown_number_unless_the_schema_knows_null(tmp_path):
    file = write(
        tmp_path,
        '{"drills": [{"name": "a", "leg": "other", "pause_s": null, "best_s": null}],'
        ' "notes": {"b": null}}',
    )
    plan = read_json(file, Plan, "plan")
    assert math.isnan(plan.drills[0].pause_s) and math.isnan(plan.notes["b"])
    assert plan.drills[0].best_s is None


def test_a_byte_order_mark_does_no_harm(tmp_path):
    assert read_json(write(tmp_path, '\xef\xbb\xbf{"drills": []}'), Plan, "plan") == Plan(())


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "plan.json is not a plan: it is not JSON text"),
        ('{"drills": [', "plan.json is not a plan: it is not JSON text"),
        ('{"drills": "\xff"}', "plan.json is not a plan: it is not JSON text"),
        ("[" * 100_000, "plan.json is not a plan: it is not JSON text"),
        ("[]", "its content must be an object, not a list"),
        ("{}", 'it has no field "drills"'),
        ('{"drills": 3}', 'its field "drills" must be a list, not a whole number'),
        ('{"drills": [{"name": "a"}]}', 'it has no field "drills[0].leg"'),
        (
            '{"drills": [{"name": "a", "leg": "left", "pause_s": 1}]}',
            "its field \"drills[0].leg\" can't be 'left'",
        ),
        (
            '{"drills": [{"name": "a", "leg": "other", "pause_s": 1, "best_s": "slow"}]}',
            'its field "drills[0].best_s" must be a number or null, not text',
        ),
        ('{"drills": [], "size": [1]}', 'its field "size" must be a list of 2, not of 1'),
        ('{"drills": [], "size": [1, 2, 3]}', 'its field "size" must be a list of 2, not of 3'),
        ('{"drills": [], "size": [1, 2.5]}', "must be a whole number, not a number"),
    ],
)
def test_what_does_not_fit_gets_a_sentence_with_the_file_and_the_field(tmp_path, text, sentence):
    with pytest.raises(InputError, match="plan.json") as problem:
        read_json(write(tmp_path, text), Plan, "plan")
    assert sentence in str(problem.value)


def test_another_schema_is_refused(tmp_path):
    file = write(tmp_path, '{"schema": "plan/2", "drills": []}')
    with pytest.raises(InputError, match=r"plan.json .* 'plan/2', and 'plan/1' is needed"):
        read_json(file, Plan, "plan", "plan/1")


def test_a_file_that_is_not_there_or_a_folder_gets_a_sentence(tmp_path):
    with pytest.raises(InputError, match=r"There is no plan .*nowhere\.json"):
        read_json(tmp_path / "nowhere.json", Plan, "plan")
    with pytest.raises(InputError, match="is a folder; give the plan itself"):
        read_json(tmp_path, Plan, "plan")


@pytest.mark.parametrize("number", [np.float64(0.25), np.int64(3)])
def test_numbers_of_numpy_are_written_as_plain_ones(number):
    class Content(msgspec.Struct):
        value: float

    assert json.loads(json_text(Content(number))) == {"value": number.item()}
