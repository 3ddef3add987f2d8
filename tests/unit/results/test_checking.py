"""Results that do not hold together are refused with the field that is wrong."""

import json
from copy import deepcopy

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stance.errors import InputError
from stance.results.checking import find_fault
from stance.results.json_format import read_result, to_json
from tests.unit.results.invented import (
    UNKNOWN,
    invented_defender,
    invented_player,
    invented_result,
    parse_result,
)

SOUND = to_json(invented_result(invented_player("A"), invented_defender("B")))


def test_sound_results_have_no_fault():
    assert find_fault(invented_result(invented_player(), invented_defender("B"))) is None
    player = invented_player()
    unknown = type(player)(**{**vars(player), "ready_positions": (UNKNOWN,)})
    assert find_fault(invented_result(unknown)) is None


def change(data, path, value):
    """A copy of parsed JSON with one field changed; ... takes the field away."""
    data = deepcopy(data)
    part = data
    for step in path[:-1]:
        part = part[step]
    if value is ...:
        del part[path[-1]]
    else:
        part[path[-1]] = value
    return data


POSITION = ("players", 0, "ready_positions", 0)


@pytest.mark.parametrize(
    ("path", "value", "field"),
    [
        (("players", 0, "shares", "square"), ..., "players[0].shares"),
        (("players", 0, "shares", "square", "share"), 7.0, "players[0].shares"),
        (("players", 0, "hand_confidence"), -1.0, "players[0].hand_confidence"),
        (("players", 1, "player"), "A", "players"),
        ((*POSITION, "probabilities"), {}, "players[0].ready_positions[0].probabilities"),
        ((*POSITION, "start_s"), None, "players[0].ready_positions[0].end_s"),
        ((*POSITION, "lead_angle_deg"), 1e300, "players[0].ready_positions[0].lead_angle_deg"),
        ((*POSITION, "end_frame"), -5, "players[0].ready_positions[0].end_frame"),
        (
            ("players", 1, "strokes_faced", 0, "ready_position"),
            99,
            "players[1].strokes_faced[0].ready_position",
        ),
        (("players", 1, "own_strokes", 0, "contact_s"), None, "players[1].own_strokes"),
        (("clip", "frame_rate"), 0.0, "clip"),
        (("clip", "size"), [0, 5], "clip.size"),
        (("court", "camera", "R"), [[1.0]], "court.camera.R"),
        (("date",), "2026-3-1", "date"),
    ],
)
def test_the_field_that_is_wrong_is_named(path, value, field):
    fault = find_fault(parse_result(change(SOUND, path, value)))
    assert fault is not None and fault.startswith(f'its field "{field}" must')


def list_paths(value, path=()):
    """Paths of all fields of parsed JSON."""
    parts = value.items() if isinstance(value, dict) else enumerate(value)
    for step, part in parts:
        yield (*path, step)
        if isinstance(part, (dict, list)) and part:
            yield from list_paths(part, (*path, step))


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda parts: st.lists(parts, max_size=3) | st.dictionaries(st.text(max_size=3), parts),
    max_leaves=5,
)


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(list(list_paths(SOUND))), ANYTHING | st.just(...))
def test_a_file_with_any_field_changed_is_sound_or_gets_a_sentence(tmp_path_factory, path, value):
    file = tmp_path_factory.mktemp("changed") / "result.json"
    file.write_text(json.dumps(change(SOUND, path, value)))
    try:
        assert find_fault(read_result(file)) is None
    except InputError as problem:
        assert str(file) in str(problem) and "Analyse the clip again" in str(problem)


@pytest.mark.parametrize("text", ["[" * 100_000, '{"schema": 1e999}', "NaN", "\x00", "{}"])
def test_what_is_no_result_gets_a_sentence(tmp_path, text):
    (tmp_path / "result.json").write_text(text)
    with pytest.raises(InputError, match="Analyse the clip again"):
        read_result(tmp_path)


def test_content_nested_deeper_than_any_result_is_refused(tmp_path):
    nested = deep = {}
    for _ in range(200):
        deep["a"] = {}
        deep = deep["a"]
    (tmp_path / "result.json").write_text(json.dumps({**SOUND, "settings": nested}))
    with pytest.raises(InputError, match="is not a result file"):
        read_result(tmp_path)
