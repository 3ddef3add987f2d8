"""Observations of the players' rackets: in which hand each holds it."""

from collections.abc import Container
from concurrent.futures import Future
from dataclasses import dataclass, field

import numpy as np

from stance.measures.racket import hand_patches
from stance.people.landmarks import Pose
from stance.people.player_state import Player, TrackId
from stance.people.pose_match import same_person
from stance.watching.close_observer import CloseObserver
from stance.watching.player_crop import PlayerCrop

# In which hand a player's racket is, is seen in so many observations, this far apart in seconds,
# whatever the player does: while they wait the body often hides it.
_MOST_OBSERVATIONS, _STEP_S = 100, 0.25


@dataclass
class _Racket:
    """A player's racket so far: poses and log odds by frame, and when the next is due, seconds."""

    observations: dict[int, tuple[Pose, Future[float]]] = field(default_factory=dict)
    due: float = -np.inf


class RacketObserver:
    """Has the players' rackets observed a few times a second.

    Parameters
    ----------
    observer
        that runs the network
    """

    def __init__(self, observer: CloseObserver) -> None:
        self._observer = observer
        self._rackets: dict[TrackId, _Racket] = {}

    def observe_if_due(self, player: Player, crop: PlayerCrop) -> None:
        """Have the racket observed in the crop of a player's last observation, if that is due."""
        racket = self._rackets.setdefault(player.track_id, _Racket())
        if player.times[-1] < racket.due or len(racket.observations) == _MOST_OBSERVATIONS:
            return
        racket.due = player.times[-1] + _STEP_S
        patches = hand_patches(crop.image, crop.pose_in_crop)
        racket.observations[player.frames[-1]] = crop.pose, self._observer.observe_racket(patches)

    def keep_only(self, track_ids: Container[TrackId]) -> None:
        """Let go of what was observed of those who are players no more."""
        for track_id in [known for known in self._rackets if known not in track_ids]:
            del self._rackets[track_id]

    def log_odds(self, player: Player) -> dict[int, float]:
        """Logarithm of the odds that the right hand holds the racket, by frame."""
        racket = self._rackets.get(player.track_id, _Racket())
        # An observation may since have been given to the partner.
        return {
            frame: odds.result()
            for frame, (observed, odds) in racket.observations.items()
            if (pose := player.pose_at(frame)) is not None and same_person(observed, pose)
        }
