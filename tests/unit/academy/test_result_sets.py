"""Results are read and clips analysed, in the order of the paths."""

import numpy as np
import pytest

from stance.academy import result_sets
from stance.academy.jobs import Job, Outcome
from stance.academy.result_sets import ClipSettings, read_result_sets
from stance.academy.result_store import Store
from stance.errors import InputError
from stance.results.writing import write_result
from tests.unit.invented import drawn_result


@pytest.fixture
def results(tmp_path):
    """Two results in folders, a and b."""
    random = np.random.default_rng(0)
    made = {name: drawn_result(random, 3, 12, name) for name in "ab"}
    for name, result in made.items():
        write_result(result, tmp_path / name)
    return made


def test_result_files_and_folders_are_read(results, tmp_path):
    store = Store(tmp_path / "kept")
    sets = read_result_sets(
        [str(tmp_path / "a")], [str(tmp_path / "b" / "result.json")], ClipSettings(), store
    )
    assert [r.clip for r in sets.before] == [results["a"].clip]
    assert [r.clip for r in sets.after] == [results["b"].clip]
    assert not store.folder.exists()


def test_clips_are_analysed_with_their_own_court_file_or_the_given_one(
    results, tmp_path, monkeypatch
):
    (tmp_path / "own.court.json").write_text("{}")
    clips = [str(tmp_path / "own.mp4"), str(tmp_path / "other.mp4"), "https://a.example/c.mp4"]
    asked = []

    def analyse(jobs, store, progress):
        asked.extend(jobs)
        return {job: Outcome(job, "k", results["b"]) for job in jobs}

    monkeypatch.setattr(result_sets, "analyse_jobs", analyse)
    settings = ClipSettings("hall.json", "left", "front")
    sets = read_result_sets([str(tmp_path / "a")], clips, settings, Store(tmp_path / "kept"))
    assert asked == [
        Job(clips[0], str(tmp_path / "own.court.json"), "left", "front"),
        Job(clips[1], "hall.json", "left", "front"),
        Job(clips[2], "hall.json", "left", "front"),
    ]
    assert sets.before[0].clip == results["a"].clip and len(sets.after) == 3


def test_all_clips_that_cannot_be_analysed_are_told(tmp_path, monkeypatch):
    monkeypatch.setattr(
        result_sets,
        "analyse_jobs",
        lambda jobs, *_, **__: {job: Outcome(job, reason=f"{job.clip} broke.") for job in jobs},
    )
    with pytest.raises(InputError, match="a.mp4 broke.\nb.mp4 broke."):
        read_result_sets(["a.mp4"], ["b.mp4"], ClipSettings(), Store(tmp_path))


def test_a_folder_without_a_result_is_told(tmp_path):
    with pytest.raises(InputError, match="holds no result.json"):
        read_result_sets([str(tmp_path)], ["b.mp4"], ClipSettings(), Store(tmp_path))


def test_a_damaged_result_is_left_out_and_named_while_its_set_has_others(results, tmp_path):
    (tmp_path / "bad").mkdir()
    (tmp_path / "bad" / "result.json").write_text("[[[")
    bad, store = str(tmp_path / "bad"), Store(tmp_path / "kept")
    before = [str(tmp_path / "a"), bad]
    sets = read_result_sets(before, [str(tmp_path / "b")], ClipSettings(), store)
    assert (len(sets.before), len(sets.after)) == (1, 1)
    (notice,) = sets.list_notices()
    assert "bad/result.json is not a result file" in notice.text
    assert str(tmp_path) not in notice.text
    with pytest.raises(InputError, match="bad"):
        read_result_sets([bad], [str(tmp_path / "b")], ClipSettings(), store)
