"""Damaged inputs in small: no traceback, nothing that takes too long, no half file."""

import pytest

from tests.evaluation.faults import count_faults


@pytest.mark.parametrize(
    ("kind", "cases"), [("courts", 12), ("rosters", 40), ("kept", 12), ("names", 6)]
)
def test_damaged_inputs_end_in_a_sentence_or_a_result(kind, cases):
    count = count_faults([kind], cases, seed=0)[kind]
    assert count.cases == cases
    assert (count.tracebacks, count.hangs, count.half_written) == (0, 0, 0), count.faults
