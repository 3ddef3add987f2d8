"""Players at rest: whoever's square has not changed keeps the pose, without an observation."""

from collections.abc import Sequence

from stance.people.candidates import Candidate
from stance.people.player_state import Player
from stance.people.stillness import (
    ReferenceView,
    body_thumbnail,
    last_unchanged,
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


def comes_to_rest(player: Player, frame: Frame) -> bool:
    """Check a player for stillness, between observations.

    Returns
    -------
    Whether the square is as at the check before, but not as at the last observation
    """
    reference = _reference_of_last(player)
    if reference is None:
        return False
    thumbnail = body_thumbnail(frame, reference.box)
    if thumbnail is None:
        return False
    before = player.last_check
    if before is None or before.observation_id != reference.observation_id:
        before = reference
    player.last_check = ReferenceView(reference.observation_id, reference.box, thumbnail)
    return same_thumbnail(thumbnail, before.thumbnail) and not same_thumbnail(
        thumbnail, reference.thumbnail
    )


def note_rest(player: Player, first: int, frames: Sequence[Frame]) -> bool:
    """Note until when a player stays as in an observation, and from when as in the next one.

    Parameters
    ----------
    player
        their observations are added to
    first
        number of the first observation; the player is seen in both
    frames
        from the frame of the first observation to that of the next

    Returns
    -------
    Whether there was anything to note
    """
    start, end = (player.poses.observation(number) for number in (first, first + 1))
    assert start is not None and end is not None
    left = last_unchanged(frames, start.pose.box)
    arrived = last_unchanged(frames[::-1], end.pose.box)
    if arrived is not None and (left is None or left.index < arrived.index):
        player.insert(arrived, end)
    if left is not None:
        player.insert(left, start)
    return left is not None or arrived is not None


def _reference_of_last(player: Player) -> ReferenceView | None:
    """What the square of the last observation looked like, if that is known."""
    reference = player.reference
    if reference is None or reference.observation_id != player.last_observation.id:
        return None
    return reference
