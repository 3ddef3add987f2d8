"""In which hand each player of a clip holds the racket."""

from collections.abc import Sequence

from stance.court.calibration import CalibratedCourt
from stance.measures.handedness import estimate_racket_hand
from stance.types import Hand
from stance.watching.assumed_court import assume_court
from stance.watching.watched_clip import RacketHand, WatchedPlayer


def find_racket_hands(
    players: Sequence[WatchedPlayer],
    court: CalibratedCourt | None,
    image_size: tuple[int, int],
    given: Hand | None,
) -> tuple[RacketHand, ...]:
    """Find the racket hand of each player, and the confidence in it.

    Parameters
    ----------
    players
        of one clip
    court
        marked or found; None where a camera is assumed from the first player
    image_size
        (width, height), pixels
    given
        the hand of all players, where it need not be seen
    """
    if given is not None:
        return (RacketHand(given, 1.0),) * len(players)
    if not players:
        return ()
    near = (court or assume_court(players[0].track, image_size)).camera
    return tuple(
        RacketHand(
            *estimate_racket_hand(player.track, player.racket_log_odds, player.own_camera(near))
        )
        for player in players
    )
