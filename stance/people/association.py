"""Who is who: candidates of a frame are given to players all at once.

Each pair costs how far the candidate is from where the player should be and how much the colours
differ, in metres; the cheapest way over all is taken (`scipy.optimize.linear_sum_assignment`), so
that a crossing, a reach, a partner in front or a short absence does not change who is who.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import scipy

from stance.court.camera import Camera
from stance.people.appearance import colour_distance
from stance.people.candidates import Candidate
from stance.people.half_court import MOST_PLAYERS
from stance.people.landmarks import HIPS
from stance.people.player_state import Player, TrackId
from stance.people.pose_match import two_people
from stance.people.settings import SETTINGS
from stance.types import FloatArray

_IMPOSSIBLE = 1e6


@dataclass(frozen=True)
class _Differences:
    """How each player (rows) and each candidate (columns) of a frame differ.

    Attributes
    ----------
    metres
        (players, candidates) from where the player should be
    colours
        (players, candidates) Hellinger distances; less where they are not sure
    """

    metres: FloatArray
    colours: FloatArray


def assign_candidates(
    players: Sequence[Player],
    candidates: Sequence[Candidate],
    time_s: float,
    camera: Camera | None,
) -> dict[TrackId, Candidate]:
    """Give candidates to players so that places, motion and colours fit best over all.

    Parameters
    ----------
    players
        of the half
    candidates
        of one frame, each somebody else
    time_s
        of the frame
    camera
        in the frame of the half; None where there is no court

    Returns
    -------
    The candidate of each player who was seen
    """
    if not candidates or not players:
        return {}
    differences = _Differences(
        np.array([[_metres_apart(p, c, time_s, camera) for c in candidates] for p in players]),
        np.array([[_colours_apart(p, c) for c in candidates] for p in players]),
    )
    cost = _assignment_cost(players, candidates, differences, time_s)
    rows, columns = scipy.optimize.linear_sum_assignment(cost)
    return {
        players[row].track_id: candidates[column]
        for row, column in zip(rows, columns, strict=True)
        if cost[row, column] < _IMPOSSIBLE
    }


def learn_colours(players: Sequence[Player], assigned: Mapping[TrackId, Candidate]) -> None:
    """Let players' colours follow what was seen of them, unless it may be the partner.

    Parameters
    ----------
    players
        of the half
    assigned
        the candidate of each player who was seen, as `assign_candidates` returns them
    """
    settings = SETTINGS.player
    both_apart = len(assigned) == MOST_PLAYERS and two_people(*(c.pose for c in assigned.values()))
    for player in players:
        candidate = assigned.get(player.track_id)
        # Backfilling may have given the observation to the other one.
        if candidate is None or candidate.observation.id != player.last_observation.id:
            continue
        if not both_apart and player.is_covered(players):
            continue
        differ = colour_distance(player.colours, candidate.colours)
        if player.colours_sure and differ > settings.own_colours and not both_apart:
            continue
        share = settings.new_colours_share if player.colours_sure else 1.0
        player.colours = (1 - share) * player.colours + share * candidate.colours
        player.colours_sure = True


def _assignment_cost(
    players: Sequence[Player],
    candidates: Sequence[Candidate],
    differences: _Differences,
    time_s: float,
) -> FloatArray:
    """What it costs to give each candidate to each player, (players, candidates) metres."""
    settings = SETTINGS.association
    cost = np.full((len(players), len(candidates)), _IMPOSSIBLE)
    for row, player in enumerate(players):
        since = time_s - player.seen_at
        reach = min(settings.reach_m + settings.reach_speed_m_s * since, settings.longest_reach_m)
        for column in range(len(candidates)):
            away, differ = differences.metres[row, column], differences.colours[row, column]
            if _is_partner(row, column, players, candidates, differences, time_s):
                continue
            total = away + settings.colour_cost_m * differ
            most = reach + settings.most_for_colours_m
            # Who alone is known, and was here a moment ago, may look otherwise as they turn.
            is_alone = len(players) == 1 and since <= settings.alone_s and away <= settings.alone_m
            looks_alike = differ <= settings.other_colours and total <= most
            if away <= reach and (looks_alike or is_alone):
                cost[row, column] = total
    return cost


def _is_partner(
    row: int,
    column: int,
    players: Sequence[Player],
    candidates: Sequence[Candidate],
    differences: _Differences,
    time_s: float,
) -> bool:
    """Whether a candidate who is where a player's partner is does not wear what they do.

    If somebody else is nearer to where the partner should be, the candidate is not they.
    """
    settings = SETTINGS.association
    pose, differ = candidates[column].pose, differences.colours[:, column]
    return any(
        other != row
        and not player.is_lost(time_s)
        and differ[row]
        > np.clip(
            settings.mixed_colours,
            differ[other] - settings.like_partner,
            differ[other] + settings.like_partner,
        )
        and pose.box.is_near(player.expected_box(time_s), settings.partner_sides)
        and not any(
            away < differences.metres[other, column] and two_people(pose, candidate.pose)
            for away, candidate in zip(differences.metres[other], candidates, strict=True)
        )
        for other, player in enumerate(players)
    )


def _colours_apart(player: Player, candidate: Candidate) -> float:
    """Difference of colours worn; less where the player's are not sure."""
    share = 1.0 if player.colours_sure else SETTINGS.association.unsure_colour_share
    return colour_distance(player.colours, candidate.colours) * share


def _metres_apart(
    player: Player, candidate: Candidate, time_s: float, camera: Camera | None
) -> float:
    """How far a candidate is from where a player should be, metres.

    Mostly in the picture's plane: along the viewing direction a floor place is far noisier.
    It counts all the same, as it parts two players of whom one is behind the other.
    """
    settings = SETTINGS.association
    last = player.last_pose
    expected = last.pixels[HIPS].mean(axis=0) + player.displacement(time_s)
    height = max(np.ptp(last.pixels[:, 1]), np.ptp(candidate.pose.pixels[:, 1]))
    middle = candidate.pose.pixels[HIPS].mean(axis=0)
    pixels = float(np.linalg.norm(middle - expected))
    away = pixels / float(height) * settings.player_height_m
    if camera is None:
        return away
    on_floor = float(np.linalg.norm(candidate.place - player.last_place(camera)))
    return away + settings.depth_share * min(on_floor, settings.longest_depth_m)
