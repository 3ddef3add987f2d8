"""Results are found by content, whole or not at all, and clips are remembered."""

import json
from dataclasses import replace

import pytest

from stance.academy.result_store import KnownClip, Store, make_key
from stance.errors import OutputError
from stance.results.json_format import result_text
from tests.unit.results.invented import invented_result


@pytest.fixture
def store(tmp_path):
    return Store(tmp_path / "kept")


def save(store, key, result, seconds=33.0):
    store.save(key, {"result.json": result_text(result).encode()}, seconds)


def test_another_clip_hand_court_or_place_of_the_phone_is_another_key():
    keys = {
        make_key("a", None, None),
        make_key("a", None, "left"),
        make_key("a", None, None, "left"),
        make_key("a", "b", None),
        make_key("c", None, None),
    }
    assert len(keys) == 5 and {len(key) for key in keys} == {32}
    assert make_key("a", None, None) in keys


def test_what_was_saved_is_listed_and_read(store):
    assert store.list_keys() == frozenset() and store.read("one") is None
    result = invented_result()
    save(store, "one", result)
    assert store.list_keys() == {"one"}
    assert result_text(store.read("one")) == result_text(result)


def test_a_result_cut_off_by_a_power_cut_is_not_taken_for_stored(store):
    store.save("one", {"result.json": b'{"schema": 1}\n'}, 1.0)
    store.save("two", {"result.json": b'{"sche'}, 1.0)
    assert store.list_keys() == {"one"} and store.read("two") is None


def test_the_result_of_a_run_that_was_faster_stays_and_a_damaged_one_goes(store):
    result = invented_result()
    save(store, "one", replace(result, session="faster"))
    save(store, "one", result)
    assert store.read("one").session == "faster"
    (store.folder / "one" / "result.json").write_text("half")
    save(store, "one", result)
    assert store.read("one").session == result.session
    assert [p.name for p in store.folder.iterdir()] == ["one"]


def test_what_a_killed_run_left_is_removed_and_nothing_else(store):
    save(store, "one", invented_result())
    (store.folder / ".three.99999999.part").mkdir()
    (store.folder / ".clips.json.99999999.part").write_text("half")
    store.remove_unfinished()
    assert [p.name for p in store.folder.iterdir()] == ["one"]


def test_a_folder_that_cannot_be_written_is_told(tmp_path):
    (tmp_path / "kept").write_text("a file")
    with pytest.raises(OutputError, match="can't be kept in"):
        Store(tmp_path / "kept").save("one", {"result.json": b"{}"}, 1.0)


def test_new_names_are_written_and_the_same_ones_leave_the_file_alone(store):
    result = invented_result()
    save(store, "one", result)
    file = store.folder_of("one") / "result.json"
    before = file.stat().st_mtime_ns
    store.relabel("one", result)
    assert file.stat().st_mtime_ns == before
    store.relabel("one", replace(result, session="week 3"))
    assert store.read("one").session == "week 3"


def test_seconds_per_frame_are_those_of_the_stored_results(store):
    assert store.measure_seconds_per_frame() is None
    result = invented_result()
    save(store, "one", result, 0.03 * result.clip.frames)
    save(store, "two", result, 0.05 * result.clip.frames)
    assert store.measure_seconds_per_frame() == pytest.approx(0.04, abs=1e-4)
    # What another program left is not counted.
    (store.folder_of("two") / "took.json").write_text('{"seconds": "long"}')
    assert store.measure_seconds_per_frame() == pytest.approx(0.03, abs=1e-4)


def test_known_clips_are_written_as_earlier_runs_wrote_them(store):
    known = {"b.mp4": KnownClip("12", "7-1"), "Åse/a.mp4": KnownClip("ab", None)}
    store.write_known_clips(known)
    text = (store.folder / "clips.json").read_text(encoding="utf-8")
    entries = {name: vars(clip) for name, clip in known.items()}
    assert text == json.dumps(entries, indent=1, sort_keys=True, ensure_ascii=False) + "\n"
    assert store.read_known_clips() == known


@pytest.mark.parametrize("text", ["[]", "{", '{"a.mp4": {"stamp": "1"}}', '{"a.mp4": 3}'])
def test_a_damaged_list_of_clips_is_no_list(store, text):
    assert store.read_known_clips() == {}
    store.folder.mkdir()
    (store.folder / "clips.json").write_text(text)
    assert store.read_known_clips() == {}
