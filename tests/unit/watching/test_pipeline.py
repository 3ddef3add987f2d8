"""One pass over a clip: which frames are looked at closely, and how long."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import sem

from stance.people.player_state import Player, TrackId
from stance.people.pose_history import PoseHistory
from stance.runtime.progress import Timings
from stance.runtime.spill_file import SpillFile
from stance.watching.close_observation import _order, _scatter
from stance.watching.effort import QUICK
from stance.watching.pipeline import _Pass, _Racket, _Segment
from tests.evaluation.figures import behind_camera


@given(st.lists(st.integers(0, 10**6), max_size=60, unique=True).map(sorted))
def test_close_looks_reach_every_frame_once(frames: list[int]) -> None:
    assert sorted(_order(frames)) == frames


@given(st.integers(1, 60))
def test_close_looks_spread_over_a_spell_from_its_middle_however_many_are_made(count: int) -> None:
    order = _order(range(count))
    assert order[0] == count // 2
    for made in (some for some in (3, 5) if some <= count):
        # In as many stretches of equal length, give or take a frame, one look each.
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
    assert _scatter(turned) == pytest.approx(wanted, abs=1e-6)


def test_nothing_is_kept_of_those_who_are_players_no_more() -> None:
    camera = behind_camera()
    with (
        SpillFile() as aside,
        _Pass(camera, camera.image_size, "near", None, QUICK, Timings(), 1, aside) as run,
    ):
        here, gone = (Player(TrackId("near", n), n, np.ones(2), PoseHistory(aside)) for n in (0, 1))
        run._followers["near"].players = [here]
        for player in (here, gone):
            run._segments[player.track_id], run._rackets[player.track_id] = _Segment(), _Racket()
            run._done[player.track_id] = []
        run._forget_others()
        assert [list(kept) for kept in (run._segments, run._rackets, run._done)] == [
            [here.track_id]
        ] * 3
