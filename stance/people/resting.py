"""Players at rest: whoever's square has not changed keeps the pose, without an observation."""

from stance.people.candidates import Candidate
from stance.people.player_state import Player
from stance.people.stillness import (
    ReferenceView,
    body_thumbnail,
    same_thumbnail,
)
from stance.video.frame import Frame


def keep_reference(player: Player, candidate: Candidate, frame: Frame) -> None:
    """Keep what the square around a new observation of a player looks like."""
    known, observation = player.reference, candidate.observation
    if known is not None and known.observation_id == observation.id:
        return
    box = observation.pose.box
    thumbnail = body_thumbnail(frame, box)
    player.reference = (
        None
        if thumbnail is None
        else ReferenceView(observation.id, box, thumbnail, candidate.centred)
    )


def is_unchanged(player: Player, frame: Frame) -> bool:
    """Whether a player's square looks as it did when the last pose was seen in it."""
    reference = _reference_of_last(player)
    if reference is None:
        return False
    thumbnail = body_thumbnail(frame, reference.box)
    return thumbnail is not None and same_thumbnail(thumbnail, reference.thumbnail)


def may_be_misplaced(player: Player, frame: Frame) -> bool:
    """Whether a player has kept still since an observation for which the model looked beside."""
    return (
        player.reference is not None
        and not player.reference.centred
        and is_unchanged(player, frame)
    )


def _reference_of_last(player: Player) -> ReferenceView | None:
    """What the square of the last observation looked like, if that is known."""
    reference = player.reference
    if reference is None or reference.observation_id != player.last_observation.id:
        return None
    return reference
