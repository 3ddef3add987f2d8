"""Parts of rallies whose sound is told from the next court's."""

import numpy as np
import pytest

from tests.evaluation.whose_sound import cut, draw_rally, judge, parts_of


@pytest.fixture(scope="module")
def rally():
    return draw_rally(4, "tune")


def test_parts_have_their_length_and_show_what_the_whole_shows_then(rally):
    parts = list(parts_of(rally, 4.0))
    assert len(parts) >= 2
    assert all(np.ptp(part.mover.track.times) == pytest.approx(4.0, abs=0.1) for part in parts)
    assert list(parts_of(rally, np.inf)) == [rally]
    part = cut(rally, 2.0, 6.0)
    assert ((part.faced_s >= 2.0) & (part.faced_s <= 6.0)).all() and len(part.faced_s)
    assert len(part.mover.track.pixels) == len(part.mover.track.times)


def test_of_a_whole_rally_most_strokes_faced_are_found_by_its_sound_and_none_in_silence(rally):
    heard, silent = judge(rally, rally.onsets_s), judge(rally, np.empty(0))
    assert heard.used and heard.found >= 0.6 * heard.true and heard.false <= 2
    assert not silent.used and silent.found == 0
