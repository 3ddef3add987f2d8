"""Floors of other sports, as they are painted and as the search of the court sees them."""

import numpy as np
import pytest

from tests.evaluation.halls import FLOORS
from tests.evaluation.other_sports import claimed_confidence, draw_other

# Length and width, metres: FIVB rule 1, ITF rule 1 (78 by 36 feet), FIBA article 2, IHF rule 1;
# from memory.
SIZES = {
    "volleyball": (18.0, 9.0),
    "tennis": (23.77, 10.97),
    "basketball": (28.0, 15.0),
    "handball": (40.0, 20.0),
}


@pytest.mark.parametrize("sport", list(FLOORS))
def test_a_floor_has_its_sports_size_and_no_line_of_a_badminton_court(sport):
    hall = draw_other(4, "test", sport).scene.hall
    assert not hall.lines[:, -1].any()
    half = FLOORS[sport].width / 2
    length, width = SIZES[sport]
    # Random lines of other sports may reach farther across, not as far along.
    assert hall.lines[:, 3].max() - half == pytest.approx(length / 2, abs=0.01)
    assert np.isclose(hall.lines[:, 0] + half, width / 2, atol=0.01).any()


def test_half_a_tennis_court_from_behind_is_no_badminton_court():
    assert np.isnan(claimed_confidence(92, "test", "tennis"))
