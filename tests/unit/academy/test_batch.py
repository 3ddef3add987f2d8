"""Each clip is analysed once; a plan says beforehand what a run would do."""

import json

import pytest

from stance.academy import batch
from stance.academy.batch import (
    ASSUMED_SECONDS_PER_FRAME,
    LOADING_S,
    analyse_jobs,
    plan_jobs,
)
from stance.academy.jobs import Job
from stance.academy.result_store import Store, make_key
from stance.academy.worker import WorkerResult
from stance.academy.workers import Workers
from stance.runtime.regular_files import hash_file
from tests.evaluation.screening_speed import tiny_clip


@pytest.fixture
def jobs(tmp_path):
    """Two clips without a player, and one that is none."""
    for number in range(2):
        tiny_clip(tmp_path / f"empty_{number}.mp4", number)
    (tmp_path / "broken.mp4").write_bytes(b"no video" * 100)
    return [Job(str(tmp_path / f"{name}.mp4")) for name in ("empty_0", "broken", "empty_1")]


@pytest.fixture
def store(tmp_path):
    return Store(tmp_path / "kept")


def test_results_are_stored_and_reasons_told_in_the_order_of_the_jobs(jobs, store):
    progress = []
    outcomes = analyse_jobs(
        [*jobs, jobs[0]], store, Workers(1), lambda *arguments: progress.append(arguments)
    )
    assert list(outcomes) == jobs
    first, broken, last = outcomes.values()
    assert first.result.clip.file == "empty_0.mp4" and first.reason is None
    assert broken.result is None and "broken.mp4" in broken.reason
    assert store.list_keys() == {first.key, last.key}
    assert progress == [("analysing the clips", n, 3) for n in (1, 2, 3)]


def test_a_stored_result_is_not_made_again_until_the_clip_changes(jobs, store, monkeypatch):
    analyse_jobs(jobs, store, Workers(1))

    def ask(to_do, stored, workers, place):
        return (WorkerResult(job, reason="It was analysed.") for job in to_do)

    monkeypatch.setattr(batch, "run_jobs", ask)
    left_handed = Job(jobs[0].clip, hand="left")
    tiny_clip(store.folder.parent / "empty_1.mp4", 5)
    outcomes = analyse_jobs([jobs[0], left_handed, jobs[2]], store)
    assert outcomes[jobs[0]].result is not None
    # Another hand is another result, and a changed file another clip.
    assert outcomes[left_handed].reason == outcomes[jobs[2]].reason == "It was analysed."


def test_a_stored_result_that_is_damaged_is_made_anew(jobs, store):
    first = analyse_jobs([jobs[0], jobs[2]], store, Workers(1))
    file = store.folder_of(first[jobs[0]].key) / "result.json"
    # Its end is there, so that only reading it tells.
    file.write_text(file.read_text().replace('"frames": 3', '"frames": "many"'))
    assert store.read(first[jobs[0]].key) is None
    again = analyse_jobs([jobs[0], jobs[2]], store, Workers(1))
    assert [again[job].result for job in again] == [first[job].result for job in first]
    assert store.read(first[jobs[0]].key) == first[jobs[0]].result


def test_a_plan_counts_frames_and_writes_nothing(jobs, store):
    plan = plan_jobs([*jobs, Job("https://club.example/a.mp4")], store)
    assert plan.stored == () and len(plan.to_do) == 4
    assert (plan.frames, plan.uncounted) == (6, 2)
    assert not plan.measured and plan.seconds_per_frame == ASSUMED_SECONDS_PER_FRAME
    assert plan.estimate_seconds(2) == pytest.approx(LOADING_S + 3 * ASSUMED_SECONDS_PER_FRAME)
    assert not store.folder.exists()


def test_a_plan_knows_stored_results_by_content_and_what_they_took(jobs, store):
    analyse_jobs(jobs[:1], store, Workers(1))
    key = make_key(hash_file(jobs[0].clip), None, None)
    (store.folder_of(key) / "took.json").write_text(json.dumps({"seconds": 6.0}))
    renamed = store.folder.parent / "renamed.mp4"
    renamed.write_bytes((store.folder.parent / "empty_0.mp4").read_bytes())
    plan = plan_jobs([jobs[0], Job(str(renamed)), jobs[2]], store)
    assert plan.stored == (jobs[0], Job(str(renamed))) and plan.to_do == (jobs[2],)
    assert plan.measured and plan.seconds_per_frame == pytest.approx(2.0)


def test_clips_come_by_url_as_well(jobs, store, tmp_path):
    url = (tmp_path / "empty_1.mp4").as_uri()
    (outcome,) = analyse_jobs([Job(url)], store, Workers(1)).values()
    assert outcome.result.clip.file == "empty_1.mp4"
    assert outcome.key == make_key(hash_file(tmp_path / "empty_1.mp4"), None, None)
