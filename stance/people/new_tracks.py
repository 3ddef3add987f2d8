"""The start of a track, for somebody who is no known player."""

from collections.abc import Sequence

from stance.people.appearance import colour_distance
from stance.people.candidates import Candidate
from stance.people.half_court import stands_on_half
from stance.people.player_state import Player, TrackId
from stance.people.pose_history import PoseHistory
from stance.people.pose_match import is_of_its_own, two_people
from stance.people.settings import SETTINGS
from stance.people.tracker_state import TrackerContext, TrackerState
from stance.video.frame import Frame


def start_track(
    context: TrackerContext, state: TrackerState, candidate: Candidate, frame: Frame
) -> None:
    """Take somebody new as a player, if there is room for one and they are not known already.

    Parameters
    ----------
    context
        camera, pose models and threads of the half
    state
        the new player is added to its players
    candidate
        who is no known player
    frame
        in which the candidate was seen
    """
    present = [
        player
        for player in state.players
        if frame.time_s - player.seen_at <= SETTINGS.player.replaced_s
    ]
    if len(present) >= context.most_players:
        return
    if context.camera is not None and not stands_on_half(
        context.camera, candidate.pose.pixels, SETTINGS.half_court.margin_found_m
    ):
        return
    if _is_known(candidate, present, frame):
        return
    taken = {player.landmarker_number for player in present}
    player = Player(
        TrackId(context.half, state.tracks_started),
        next(number for number in range(context.most_players) if number not in taken),
        candidate.colours,
        PoseHistory(),
    )
    player.append(frame, candidate.observation)
    state.tracks_started += 1
    state.players.append(player)
    player.colours_sure = not player.is_covered(state.players)


def _is_known(candidate: Candidate, present: Sequence[Player], frame: Frame) -> bool:
    """Whether a candidate is about where a known player is, in the same clothes or covered."""
    return any(
        player.pose_at(frame.index) is not None
        and not two_people(player.last_pose, candidate.pose)
        and (
            colour_distance(player.colours, candidate.colours) < SETTINGS.association.mixed_colours
            or not is_of_its_own(candidate.pose, [player.last_pose])
        )
        for player in present
    )
