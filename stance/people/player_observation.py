"""Observations of players where they should be, alone or past a partner.

Of two of whom one stands before the other the pose model would take arms and legs of the one for
the other's, so each is observed with the other painted over.
"""

from collections.abc import Sequence
from dataclasses import replace

from stance.people.appearance import colours_worn
from stance.people.candidates import Candidate, Sought, find_candidates, nearest_candidate
from stance.people.landmarks import Box, Pose
from stance.people.player_state import Player
from stance.people.pose_match import is_of_its_own
from stance.people.settings import SETTINGS
from stance.people.tracker_state import TrackerContext
from stance.video.frame import Frame


def observe_around(context: TrackerContext, frame: Frame, player: Player) -> list[Candidate]:
    """Observe a player around where they should be, with the model that follows them.

    Parameters
    ----------
    context
        camera, pose models and threads of the half
    frame
        the next one
    player
        whose place in the crop is updated
    """
    box = player.expected_box(frame.time_s)
    observer = context.models.steady(context.half, player.landmarker_number)
    sought = Sought(SETTINGS.half_court.margin_followed_m, box)
    found = find_candidates(context.camera, frame, observer.observe(frame, box), sought)
    return [_checked_for_centre(player, box, candidate) for candidate in found]


def observe_past_each_other(
    context: TrackerContext, frame: Frame, players: Sequence[Player]
) -> list[Candidate]:
    """Observe two players where they should be, the one in front first, then who is behind.

    Parameters
    ----------
    context
        camera, pose models and threads of the half
    frame
        the next one
    players
        two of them
    """
    now = frame.time_s
    front, rear = sorted(players, key=lambda player: -player.feet_row)
    nearer, farther = front.expected_pose(now), rear.expected_pose(now)
    found = observe_in_front(context, frame, nearer, farther)
    found = found or observe_around(context, frame, front)
    nearest = nearest_candidate(found, nearer)
    nearer = nearer if nearest is None else nearest.pose
    behind = observe_behind(context, frame, farther, nearer)
    behind = behind or [
        replace(candidate, colours=colours_worn(frame, candidate.pose, [nearer]))
        for candidate in observe_around(context, frame, rear)
        if is_of_its_own(candidate.pose, [nearer], farther)
    ]
    return found + behind


def observe_in_front(
    context: TrackerContext, frame: Frame, expected: Pose, other: Pose
) -> list[Candidate]:
    """Observe somebody where they are expected, in front of somebody else.

    Parameters
    ----------
    context
        camera, pose models and threads of the half
    frame
        the picture, with its time
    expected
        pose of who is sought
    other
        pose of who stands behind, and is painted over
    """
    square = expected.box.widened(SETTINGS.observation.past_factor)
    observations = context.models.finder.observe(frame, square, [other], in_front=expected)
    sought = Sought(SETTINGS.half_court.margin_followed_m, expected.box, expected=expected)
    return find_candidates(context.camera, frame, observations, sought)


def observe_behind(
    context: TrackerContext, frame: Frame, expected: Pose, other: Pose
) -> list[Candidate]:
    """Observe somebody where they are expected, past somebody else.

    Parameters
    ----------
    context
        camera, pose models and threads of the half
    frame
        the picture, with its time
    expected
        pose of who is sought
    other
        pose of who stands in front, and is painted over
    """
    square = expected.box.widened(SETTINGS.observation.past_factor)
    observations = context.models.finder.observe(frame, square, [other])
    margin = SETTINGS.half_court.margin_followed_m
    sought = Sought(margin, expected.box, [other], expected)
    return find_candidates(context.camera, frame, observations, sought)


def _checked_for_centre(player: Player, box: Box, candidate: Candidate) -> Candidate:
    """Tell whether the model looked where the person is: where it saw them in the last crop."""
    here = candidate.pose.box
    place = (
        (here.x + here.side / 2 - box.x) / box.side,
        (here.y + here.side / 2 - box.y) / box.side,
    )
    away = max(abs(now - before) for now, before in zip(place, player.place_in_crop, strict=True))
    player.place_in_crop = place
    return replace(candidate, centred=away <= SETTINGS.observation.off_centre_sides)
