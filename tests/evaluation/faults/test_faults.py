"""Faults in small: no traceback, nothing that takes too long, no half file, the same results."""

import pytest

from tests.evaluation.faults.__main__ import count_faults, summarise
from tests.evaluation.faults.cases import Kind, Outcome, Seen

CASES = {
    "courts": 12,
    "rosters": 40,
    "kept": 8,
    "names": 6,
    "pages": 30,
    "stops": 6,
    "together": 4,
    "full": 4,
    "readonly": 3,
    "kills": 1,
    "network": 1,
    "repeats": 1,
}


@pytest.fixture(scope="module")
def counts():
    """What became of a few cases of each kind."""
    return count_faults(CASES, seed=0, workers=2)


@pytest.mark.parametrize("name", CASES)
def test_faults_end_in_a_sentence_or_a_result(counts, name):
    count = counts[name]
    assert count.inputs == CASES[name] and count.list_of_faults == ()
    assert count.identical == count.compared


@pytest.mark.parametrize(
    ("outcome", "said"),
    [
        (Outcome("KeyError in x.py:1"), "1 x KeyError in x.py:1 (first seed 3)"),
        (Outcome("done", 21.0), "1 x too long (first seed 3)"),
        (Outcome("done", 1.0, Seen(half_written=("a",))), "1 x half written: a (first seed 3)"),
        (Outcome("done", 1.0, Seen(left_over=("b",))), "1 x left over: b (first seed 3)"),
        (Outcome("done", 1.0, Seen(identical=False)), "1 x not identical (first seed 3)"),
    ],
)
def test_what_is_wrong_is_counted_and_named(outcome, said):
    kind = Kind(lambda *_: None, 1)
    assert summarise(kind, {3: outcome, 4: Outcome("refused", 1.0)}).list_of_faults == (said,)
