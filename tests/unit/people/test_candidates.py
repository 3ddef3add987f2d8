"""Which observations may show a player."""

from stance.people.candidates import (
    Sought,
    distinct_candidates,
    find_candidates,
    nearest_candidate,
)
from tests.unit.figures import behind_camera
from tests.unit.people.made_people import RED, candidate_at, first_picture, observed, pose_at

MARGIN_M = 0.15


def seen_at(*xs: float, sought: Sought) -> list[float]:
    """Places across the court of those who may be who is sought, of people seen at places."""
    observations = [observed(pose_at(x)) for x in xs]
    found = find_candidates(behind_camera(), first_picture(), observations, sought)
    return [round(float(candidate.place[0]), 2) for candidate in found]


def test_who_stands_beside_the_half_is_no_candidate() -> None:
    assert seen_at(0.0, 4.0, 2.5, sought=Sought(MARGIN_M)) == [0.0, 2.5]
    assert seen_at(3.6, sought=Sought(0.9)) == [3.6]


def test_who_is_beside_the_middle_of_the_square_is_another_person() -> None:
    assert seen_at(0.1, 2.0, sought=Sought(MARGIN_M, pose_at(0.0).box)) == [0.1]


def test_what_is_left_of_those_painted_over_is_no_candidate() -> None:
    assert seen_at(0.1, 2.0, sought=Sought(MARGIN_M, others=[pose_at(0.0)])) == [2.0]


def test_of_several_poses_of_a_person_the_first_stays() -> None:
    candidates = [candidate_at(x, RED) for x in (0.0, 0.02, 1.0, 0.01)]
    assert distinct_candidates(candidates) == [candidates[0], candidates[2]]


def test_the_nearest_candidate_is_taken_unless_it_is_somebody_else() -> None:
    near, far = candidate_at(0.2, RED), candidate_at(1.0, RED)
    assert nearest_candidate([far, near], pose_at(0.0)) == near.observation
    assert nearest_candidate([far], pose_at(0.0)) is None
    assert nearest_candidate([], pose_at(0.0)) is None
