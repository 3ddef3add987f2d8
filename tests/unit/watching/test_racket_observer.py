"""Rackets are observed now and then, and what was observed stays with whom it shows."""

from concurrent.futures import Future

import numpy as np

from stance.people.player_state import Player
from stance.watching.player_crop import take_crop
from stance.watching.racket_observer import RacketObserver
from tests.unit.figures import behind_camera
from tests.unit.watching.made_players import made_player, observation_at, plain_frame

CAMERA = behind_camera()


class CountingObserver:
    """Stands for the network: the log odds are the number of observations so far."""

    def __init__(self) -> None:
        self.made = 0

    def observe_racket(self, patches: np.ndarray) -> Future[float]:
        self.made += 1
        observed: Future[float] = Future()
        observed.set_result(float(self.made))
        return observed


def observed(player: Player, rackets: RacketObserver) -> None:
    """Have a player's last observation looked at for the racket."""
    frame = plain_frame(player.frames[-1])
    rackets.observe_if_due(player, take_crop(frame, player.last_pose))


def test_a_racket_is_observed_four_times_a_second_at_most() -> None:
    player, rackets = made_player(CAMERA, []), RacketObserver(CountingObserver())
    for index in range(60):
        player.append(plain_frame(index), observation_at(CAMERA, (0.0, -4.0), index))
        observed(player, rackets)
    frames = list(rackets.log_odds(player))
    assert len(frames) == 8
    assert np.diff(frames).min() >= 0.25 * 30


def test_what_shows_the_partner_by_now_does_not_count() -> None:
    player, rackets = (
        made_player(CAMERA, [(0.0, -4.0)]),
        RacketObserver(CountingObserver()),
    )
    observed(player, rackets)
    assert rackets.log_odds(player) == {0: 1.0}
    player.poses.replace(0, observation_at(CAMERA, (2.0, -4.0), 99))
    assert rackets.log_odds(player) == {}


def test_nothing_is_kept_of_those_who_are_players_no_more() -> None:
    here, gone = (made_player(CAMERA, [(0.0, -4.0)], n) for n in (0, 1))
    rackets = RacketObserver(CountingObserver())
    for player in (here, gone):
        observed(player, rackets)
    rackets.keep_only({here.track_id})
    assert rackets.log_odds(here) and not rackets.log_odds(gone)
