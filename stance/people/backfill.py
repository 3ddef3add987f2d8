"""Earlier frames observed once more, when the other of two players is found.

While only one of the two was known, what was seen of one may be partly the other's.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from stance.people.candidates import nearest_candidate
from stance.people.half_court import MOST_PLAYERS
from stance.people.landmarks import Pose
from stance.people.observation import Observation
from stance.people.player_observation import observe_behind, observe_in_front
from stance.people.player_state import Player, exchange_later
from stance.people.pose_match import is_clearly_first, same_person
from stance.people.settings import SETTINGS
from stance.people.tracker_state import TrackerContext, TrackerState
from stance.video.frame import Frame


def keep_or_backfill(
    context: TrackerContext, state: TrackerState, frame: Frame, known: Sequence[Player]
) -> None:
    """Keep a frame in which one of two was seen; observe those kept again once both are.

    Parameters
    ----------
    context
        camera, pose models and threads of the half
    state
        its frames are kept, or used and let go
    frame
        in which players have just been seen
    known
        those of them who were players before
    """
    seen = [p for p in state.players if p.pose_at(frame.index) is not None]
    if len(seen) == MOST_PLAYERS:
        known_ids = {player.track_id for player in known}
        for player, partner in (seen, seen[::-1]):
            if player.track_id not in known_ids or player.poses[-2] is None:
                backfill(context, state.frames_with_one, player, partner)
    elif (
        len(seen) == 1
        and context.most_players == MOST_PLAYERS
        and _other_may_be_there(state.players, seen[0], frame.time_s)
    ):
        kept = state.frames_with_one
        if not kept or frame.time_s - kept[-1].time_s >= SETTINGS.backfill.step_s:
            kept.append(frame)
        return
    state.frames_with_one.clear()


def backfill(
    context: TrackerContext, frames: Sequence[Frame], player: Player, partner: Player
) -> None:
    """Observe who was just found in the frames before, past the partner, and the partner too.

    Parameters
    ----------
    context
        camera, pose models and threads of the half
    frames
        in the clip's order, in which only one of the two was seen
    player
        who was just found
    partner
        who was seen in the frames
    """
    mine, theirs = player.last_observation, partner.last_observation
    in_front = player.feet_row > partner.feet_row
    missed = 0
    for frame in reversed(frames):
        known = partner.observation_at(frame.index)
        if (
            known is None
            or player.pose_at(frame.index) is not None
            or missed == SETTINGS.backfill.most_misses
        ):
            break
        seen = _observe_both(context, frame, _MomentLater(mine.pose, theirs.pose, in_front), known)
        here, there = seen.player, seen.partner
        is_new = player.frames[0] > frame.index
        if (
            is_new
            and here is not None
            and is_clearly_first(known.pose, here.pose, (there or theirs).pose)
        ):
            # Who was followed until here is the one just found: the model went over to the partner.
            exchange_later(player, partner, frame)
            partner.insert(frame, here)
            mine, theirs, in_front = there or theirs, here, not in_front
            if there is not None:
                player.insert(frame, there)
            continue
        # A partner at rest keeps the observation: another one would seem to be a motion.
        theirs = known if there is None or same_person(there.pose, known.pose) else there
        if here is None or same_person(here.pose, theirs.pose):
            missed += 1
            continue
        mine, missed = here, 0
        player.insert(frame, mine)
        partner.insert(frame, theirs)


@dataclass(frozen=True)
class _MomentLater:
    """Two players a moment after a frame.

    Attributes
    ----------
    player, partner
        poses
    player_in_front
        whether the player stands nearer to the camera than the partner
    """

    player: Pose
    partner: Pose
    player_in_front: bool


@dataclass(frozen=True)
class _Both:
    """Two players in one frame, each None if not seen, the partner also if not near the player."""

    player: Observation | None
    partner: Observation | None


def _other_may_be_there(players: Sequence[Player], seen: Player, time_s: float) -> bool:
    """Whether the player seen has just come, or another one was there a moment ago."""
    return time_s - seen.times[0] <= SETTINGS.backfill.start_s or any(
        time_s - player.seen_at <= SETTINGS.player.gone_s
        for player in players
        if player.track_id != seen.track_id
    )


def _observe_both(
    context: TrackerContext, frame: Frame, later: _MomentLater, known: Observation
) -> _Both:
    """Observe two players in an earlier frame, where the partner was seen as `known`."""
    mine, theirs = later.player, later.partner
    if not mine.box.is_near(known.pose.box, SETTINGS.observation.overlapping_sides):
        return _Both(
            nearest_candidate(observe_behind(context, frame, mine, known.pose), mine), None
        )
    if later.player_in_front:
        here = nearest_candidate(observe_in_front(context, frame, mine, known.pose), mine)
        if here is None:
            return _Both(None, None)
        behind = observe_behind(context, frame, theirs, here.pose)
        return _Both(here, nearest_candidate(behind, theirs))
    there = nearest_candidate(observe_in_front(context, frame, theirs, mine), theirs)
    behind = observe_behind(context, frame, mine, (there or known).pose)
    return _Both(nearest_candidate(behind, mine), there)
