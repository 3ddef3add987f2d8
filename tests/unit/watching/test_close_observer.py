"""Which frames of a spell are observed first, and how sure their mean is."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import sem

from stance.watching.close_observer import scatter_of_mean, spread_order


@given(st.lists(st.integers(0, 10**6), max_size=60, unique=True).map(sorted))
def test_observations_reach_every_frame_once(frames: list[int]) -> None:
    assert sorted(spread_order(frames)) == frames


@given(st.integers(1, 60))
def test_observations_spread_over_a_spell_from_its_middle_however_many_are_made(count: int) -> None:
    order = spread_order(range(count))
    assert order[0] == count // 2
    for made in (some for some in (3, 5) if some <= count):
        # In as many stretches of equal length, give or take a frame, one observation each.
        for number, frame in enumerate(sorted(order[:made])):
            assert number * count / made - 1 <= frame < (number + 1) * count / made + 1


@given(
    st.lists(st.tuples(st.floats(-20, 20), st.floats(-20, 20)), min_size=2, max_size=8),
    st.floats(-180, 180),
)
def test_scatter_is_the_standard_error_of_the_mean_wherever_on_the_circle(
    angles: list[tuple[float, float]],
    turn: float,
) -> None:
    # SciPy's `sem`: the standard deviation with n - 1, over the root of n.
    wanted = max(sem([one for one, _ in angles]), sem([two for _, two in angles]))
    turned = [
        ((one + turn + 180) % 360 - 180, (two + turn + 180) % 360 - 180) for one, two in angles
    ]
    assert scatter_of_mean(turned) == pytest.approx(wanted, abs=1e-6)
