"""One pass over a clip: which frames are looked at closely, and how long."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import sem

from stance.passes import _order, _scatter


@given(st.lists(st.integers(0, 10**6), min_size=3, max_size=60, unique=True).map(sorted))
def test_close_looks_reach_every_frame_once_and_spread_from_the_middle(frames: list[int]) -> None:
    order = _order(frames)
    assert sorted(order) == frames
    third = len(frames) / 3
    first = sorted(frames.index(frame) for frame in order[:3])
    assert order[0] == frames[len(frames) // 2]
    assert first[0] < third and first[2] >= 2 * third - 1


def test_without_frames_nothing_is_looked_at() -> None:
    assert _order([]) == []


@given(st.lists(st.tuples(st.floats(-20, 20), st.floats(-20, 20)), min_size=2, max_size=8),
       st.floats(-180, 180))
def test_scatter_is_the_standard_error_of_the_mean_wherever_on_the_circle(
    angles: list[tuple[float, float]], turn: float,
) -> None:
    # SciPy's `sem`: the standard deviation with n - 1, over the root of n.
    wanted = max(sem([one for one, _ in angles]), sem([two for _, two in angles]))
    turned = [((one + turn + 180) % 360 - 180, (two + turn + 180) % 360 - 180)
              for one, two in angles]
    assert _scatter(turned) == pytest.approx(wanted, abs=1e-6)
