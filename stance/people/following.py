"""Observations of players who are followed, around where they should be."""

from collections.abc import Mapping, Sequence

from stance.people.candidates import Candidate, Sought, find_candidates
from stance.people.half_court import MOST_PLAYERS
from stance.people.observation import map_concurrently
from stance.people.player_observation import observe_around, observe_past_each_other
from stance.people.player_state import Player, TrackId
from stance.people.resting import is_unchanged, may_be_misplaced
from stance.people.settings import SETTINGS
from stance.people.tracker_state import TrackerContext
from stance.video.frame import Frame


def observe_followed(
    context: TrackerContext, frame: Frame, followed: Sequence[Player], players: Sequence[Player]
) -> list[Candidate]:
    """Observe each player around where they should be, unless they have not moved at all.

    Parameters
    ----------
    context
        camera, pose models and threads of the half
    frame
        the next one
    followed
        players who are not lost
    players
        all of the half, who may cover them
    """
    still = [p for p in followed if not p.is_covered(players) and is_unchanged(p, frame)]
    again = [player for player in still if may_be_misplaced(player, frame)]
    checked = {player.track_id for player in again}
    candidates = [_as_before(context, p) for p in still if p.track_id not in checked]
    for player in again:
        candidates += _observe_again(context, frame, player) or [_as_before(context, player)]
    at_rest = {player.track_id for player in still}
    moving = [player for player in followed if player.track_id not in at_rest]
    if len(moving) == MOST_PLAYERS:
        first, second = (player.expected_box(frame.time_s) for player in moving)
        if first.is_near(second, SETTINGS.observation.overlapping_sides):
            return candidates + observe_past_each_other(context, frame, moving)
    observed = map_concurrently(
        context.workers, lambda player: observe_around(context, frame, player), moving
    )
    return candidates + [candidate for some in observed for candidate in some]


def observe_wider(
    context: TrackerContext,
    frame: Frame,
    missed: Sequence[Player],
    assigned: Mapping[TrackId, Candidate],
) -> list[Candidate]:
    """Observe further around players: who runs comes further than the usual square.

    Whoever else is seen there may stand in front, so they are looked past too. Who stays unseen is
    looked for ever less often: somebody hides them.

    Parameters
    ----------
    context
        camera, pose models and threads of the half
    frame
        the next one
    missed
        players who were not seen where they should be
    assigned
        the candidates of those who were seen
    """
    settings = SETTINGS.observation
    candidates = []
    for player in missed:
        if not _is_power_of_two(player.misses + 1):
            continue
        expected = player.expected_pose(frame.time_s)
        box = expected.box
        side = player.largest_side
        wide, wider = (
            box.widened(factor * side / box.side)
            for factor in (settings.wide_factor, settings.wider_factor)
        )
        others = [
            candidate.pose
            for candidate in assigned.values()
            if candidate.pose.box.is_near(wide, settings.in_front_sides)
        ]
        squares = [(wide, others), (wider, others)] + ([(wider, [])] if others else [])
        for square, past in squares:
            observations = context.models.finder.observe(frame, square, past)
            sought = Sought(SETTINGS.half_court.margin_followed_m, square, past, expected)
            candidates += find_candidates(context.camera, frame, observations, sought)
    return candidates


def _is_power_of_two(count: int) -> bool:
    """Whether a count from 1 on is 1, 2, 4, 8 and so on."""
    return count & (count - 1) == 0


def _as_before(context: TrackerContext, player: Player) -> Candidate:
    """A player who has not moved, as seen before."""
    return Candidate(player.last_observation, player.last_place(context.camera), player.colours)


def _observe_again(context: TrackerContext, frame: Frame, player: Player) -> list[Candidate]:
    """Observe a player at rest with a search of the square: the model may have looked beside."""
    box = player.last_pose.box
    sought = Sought(SETTINGS.half_court.margin_followed_m, box)
    observations = context.models.finder.observe(frame, box)
    return find_candidates(context.camera, frame, observations, sought)
