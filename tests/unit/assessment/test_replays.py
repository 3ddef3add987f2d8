"""What a replay shows again counts once."""

from stance.assessment.players import MeasuredPlayer
from stance.assessment.replays import leave_out_replays, replay_notices
from stance.people.replays import Replay
from stance.results.model import OwnStroke, StrokeFaced
from stance.watching.watched_clip import RacketHand
from tests.unit.assessment.test_players import NEAR, watched_player
from tests.unit.results.invented import invented_position

REPLAY = Replay(10.0, 20.0, 4.0, 8.0)


def _player() -> MeasuredPlayer:
    """Set at 5, 12 and 25 seconds for strokes faced; one met on the move in the replay."""
    spells = ((4.9, 5.2), (11.8, 12.4), (24.9, 25.2))
    return MeasuredPlayer(
        watched_player("near", (0.0, -4.0)),
        NEAR,
        RacketHand("right", 0.9),
        tuple(invented_position(start_s=start, end_s=end) for start, end in spells),
        (
            StrokeFaced(5.0, 0.03, ("seen",), False, "set", 0),
            StrokeFaced(12.0, 0.03, ("seen",), False, "set", 1),
            StrokeFaced(16.0, 0.03, ("seen",), False, "on_the_move"),
            StrokeFaced(25.0, 0.03, ("seen",), False, "set", 2),
        ),
        (OwnStroke(6.0, 0.03), OwnStroke(20.2, 0.03), OwnStroke(26.0, 0.03)),
    )


def test_positions_and_strokes_of_a_replay_are_left_out_and_the_others_stay_together() -> None:
    player = leave_out_replays({"A": _player()}, [REPLAY])["A"]
    assert [position.start_s for position in player.positions] == [4.9, 24.9]
    assert [(s.time_s, s.ready_position) for s in player.strokes_faced] == [(5.0, 0), (25.0, 1)]
    assert [stroke.time_s for stroke in player.own_strokes] == [6.0, 26.0]


def test_without_a_replay_all_stays() -> None:
    players = {"A": _player()}
    assert leave_out_replays(players, []) == players


def test_the_notice_names_both_times_and_how_slow_it_is() -> None:
    (notice,) = replay_notices([REPLAY])
    assert notice.code == "replay"
    assert "From 10.0 to 20.0 s the clip shows again, 2 times slower" in notice.text
    assert "from 4.0 to 8.0 s" in notice.text
