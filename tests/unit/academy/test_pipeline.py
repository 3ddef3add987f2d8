"""From a roster to a screening: results are labelled, and unknown columns told."""

import numpy as np
import pytest

from stance.academy import pipeline
from stance.academy.jobs import Job, Outcome
from stance.academy.pipeline import screen_roster
from stance.academy.result_store import Store
from stance.academy.roster import Roster, Row
from stance.results.json_format import result_text
from tests.unit.invented import drawn_result


@pytest.fixture
def store(tmp_path, monkeypatch):
    """A store that holds the result of a clip, without its name."""
    store = Store(tmp_path)
    result = drawn_result(np.random.default_rng(0), 3, 12)
    store.save("key", {"result.json": result_text(result).encode()}, 1.0)
    monkeypatch.setattr(
        pipeline,
        "analyse_jobs",
        lambda jobs, *_: {job: Outcome(job, "key", store.read("key")) for job in jobs},
    )
    return store


def test_the_stored_result_carries_the_rosters_name_date_and_session(store):
    row = Row(2, "J-7", Job("a.mp4"), date="2026-03-14", session="week 3")
    screening = screen_roster(Roster((row,), ()), store)
    assert [p.player for p in screening.players] == ["J-7"] and screening.warnings == ()
    stored = store.read("key")
    assert stored.players[0].name == "J-7"
    assert (stored.date, stored.session) == ("2026-03-14", "week 3")


def test_columns_that_mean_nothing_are_told(store):
    screening = screen_roster(Roster((Row(2, "J-7", Job("a.mp4")),), ("coach", "note")), store)
    (notice,) = screening.warnings
    assert notice.code == "unknown_columns" and "coach, note mean nothing here" in notice.text
