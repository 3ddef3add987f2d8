"""The table of measures against the model, and the definitions against the table."""

import math
from dataclasses import fields
from pathlib import Path

from stance.results.measures_table import COMPARED, MEASURES
from stance.results.model import ReadyPosition
from tests.unit.results.invented import UNKNOWN, invented_position

DEFINITIONS = Path(__file__).parents[3] / "docs" / "definitions.md"
# Fields of a ready position that are no measures: when, which frames, class, places, remarks.
OTHERS = {
    "start_s",
    "end_s",
    "start_frame",
    "end_frame",
    "key_frame",
    "stance_class",
    "probabilities",
    "feet",
    "hips_m",
    "remarks",
    "racket_foot_leading",
}


def definition(measure):
    """The row that docs/definitions.md must have of a measure."""
    part = "" if measure.part is None else f"[{measure.part}]"
    error = f"`{measure.error_field}{part}`" if measure.error_field else ""
    return (
        f"| `{measure.field}{part}` | {measure.name} | {measure.unit} | {measure.sign} | {error} |"
    )


def test_each_field_of_a_ready_position_is_a_measure_its_error_or_no_measure():
    declared = {m.field for m in MEASURES} | {m.error_field for m in MEASURES if m.error_field}
    assert declared | OTHERS == {field.name for field in fields(ReadyPosition)}
    assert not declared & OTHERS


def test_no_two_columns_have_the_same_heading():
    headings = [m.heading for m in MEASURES] + [m.error_heading for m in MEASURES if m.error_field]
    assert len(set(headings)) == len(headings)


def test_the_definitions_have_a_row_for_each_measure():
    text = DEFINITIONS.read_text(encoding="utf-8")
    assert [row for row in map(definition, MEASURES) if row not in text.splitlines()] == []


def test_value_and_error_are_those_of_the_position():
    position = invented_position(lead_deg=-16.0, place=(1.5, -4.2))
    measures = {measure.field: measure for measure in MEASURES}
    lead, along = measures["lead_angle_deg"], MEASURES[-1]
    assert (lead.value(position), lead.error(position)) == (-16.0, 2.6)
    assert (along.value(position), along.error(position)) == (-4.2, 0.05)
    assert math.isnan(lead.value(UNKNOWN))
    assert math.isnan(measures["stance_width_hips"].error(position))


def test_what_is_compared_is_one_angle_with_a_standard_error():
    assert [m.title for m in COMPARED] == ["Lead angle", "Hip yaw"]
    assert all(m.part is None and m.error_field and m.unit == "degrees" for m in COMPARED)
