"""Which player a pose is: place, motion and clothes over all."""

import numpy as np
import pytest

from stance.people.association import assign_candidates, learn_colours
from stance.people.settings import SETTINGS
from tests.unit.figures import behind_camera
from tests.unit.people.made_people import BLUE, RED, candidate_at, player_at


def players_given(seen: list[tuple[float, np.ndarray]], apart_m: float = 0.3) -> list[int | None]:
    """Numbers of two players, in red and blue, who get the poses seen at x in colours."""
    players = [player_at(0, 0.0, RED), player_at(1, apart_m, BLUE)]
    candidates = [candidate_at(x, worn) for x, worn in seen]
    assigned = assign_candidates(players, candidates, 0.1, behind_camera())
    numbers = {candidate.observation.id: track.number for track, candidate in assigned.items()}
    return [numbers.get(candidate.observation.id) for candidate in candidates]


@pytest.mark.parametrize(
    ("seen", "numbers"),
    [
        ([(0.05, RED), (0.25, BLUE)], [0, 1]),
        ([(0.25, RED), (0.05, BLUE)], [0, 1]),
        ([(0.2, BLUE)], [1]),
        # A second pose on the partner is not the player who is hidden there.
        ([(0.3, BLUE), (0.1, BLUE)], [1, None]),
    ],
)
def test_where_players_cross_their_clothes_tell_who_is_who(
    seen: list[tuple[float, np.ndarray]], numbers: list[int | None]
) -> None:
    assert players_given(seen) == numbers


def test_who_stands_beside_the_partner_is_the_player_whatever_they_seem_to_wear() -> None:
    assert players_given([(0.0, BLUE), (0.9, BLUE)], apart_m=0.9) == [0, 1]


def test_who_is_farther_away_than_anybody_runs_is_nobody_known() -> None:
    players = [player_at(0, -1.0, RED)]
    assert not assign_candidates(players, [candidate_at(1.0, RED)], 0.1, behind_camera())
    assert assign_candidates(players, [candidate_at(1.0, RED)], 1.1, behind_camera())


@pytest.mark.parametrize(("time_s", "x", "known"), [(0.1, 0.3, True), (0.1, 0.8, False)])
def test_who_alone_is_known_stays_the_same_in_other_colours_from_one_moment_to_the_next(
    time_s: float, x: float, known: bool
) -> None:
    assigned = assign_candidates(
        [player_at(0, 0.0, RED)], [candidate_at(x, BLUE)], time_s, behind_camera()
    )
    assert bool(assigned) == known


@pytest.mark.parametrize(
    ("partner_x", "worn", "learned"),
    [
        (3.0, (0.7, 0.3), True),
        (3.0, (0.05, 0.95), False),  # unlike the player's own: may be the partner's
        (0.2, (0.7, 0.3), False),  # the partner's square overlaps
    ],
)
def test_colours_are_learned_only_where_they_are_the_players_own(
    partner_x: float, worn: tuple[float, float], learned: bool
) -> None:
    player, partner = player_at(0, 0.0, RED), player_at(1, partner_x, BLUE)
    seen = candidate_at(0.0, np.array(worn))
    player.replace_last(seen.observation)
    learn_colours([player, partner], {player.track_id: seen})
    share = SETTINGS.player.new_colours_share if learned else 0.0
    wanted = (1.0 - share) * RED + share * np.array(worn)
    np.testing.assert_allclose(player.colours, wanted)


def test_nothing_is_learned_from_an_observation_that_went_over_to_the_partner() -> None:
    player = player_at(0, 0.0, RED)
    learn_colours([player], {player.track_id: candidate_at(0.0, np.array([0.7, 0.3]))})
    np.testing.assert_array_equal(player.colours, RED)
