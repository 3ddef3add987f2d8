"""The racket hand of each player of a clip."""

import pytest

from stance.watching.clip_watching import find_racket_hands
from stance.watching.watched_clip import RacketHand, WatchedPlayer
from tests.unit.figures import behind_camera, figure, track_of


@pytest.fixture
def player() -> WatchedPlayer:
    """Somebody who stands still while one picture shows the racket in the right hand."""
    track = track_of(behind_camera(), figure((0.5, -4.0))[None].repeat(3, axis=0), 30.0)
    return WatchedPlayer("near", track, {}, {}, {0: 3.0}, {})


def test_a_hand_that_is_given_is_every_players(player: WatchedPlayer) -> None:
    hands = find_racket_hands([player, player], None, (1280, 720), "left")
    assert hands == (RacketHand("left", 1.0), RacketHand("left", 1.0))


def test_a_hand_that_is_not_given_is_seen_without_a_court_too(player: WatchedPlayer) -> None:
    (hand,) = find_racket_hands([player], None, (1280, 720), None)
    assert hand.hand == "right" and 0.5 <= hand.confidence < 1.0
    assert find_racket_hands([], None, (1280, 720), None) == ()
