"""Whether two poses are of one person, and whether a pose is a person at all."""

import pytest

from stance.people.landmarks import NOSE
from stance.people.pose_match import is_clearly_first, is_of_its_own, same_person, two_people
from tests.unit.people.made_people import pose_at


@pytest.mark.parametrize(
    ("apart_m", "same", "two"),
    [(0.0, True, False), (0.05, True, False), (0.3, False, False), (0.8, False, True)],
)
def test_poses_near_each_other_are_one_person_and_far_apart_two(
    apart_m: float, same: bool, two: bool
) -> None:
    one, other = pose_at(0.0), pose_at(apart_m)
    assert (same_person(one, other), two_people(one, other)) == (same, two)


def test_a_pose_is_clearly_the_first_of_two_only_if_it_is_much_nearer() -> None:
    one, two = pose_at(0.0), pose_at(0.6)
    assert is_clearly_first(pose_at(0.1), one, two)
    assert not is_clearly_first(pose_at(0.25), one, two)
    assert not is_clearly_first(pose_at(0.0), one, pose_at(0.05))


def test_what_is_left_of_somebody_painted_over_is_no_person() -> None:
    front = pose_at(0.0)
    assert is_of_its_own(front, [])
    assert is_of_its_own(pose_at(1.0), [front])
    assert not is_of_its_own(pose_at(0.1), [front])
    # Mostly covered, but the head shows, where the person is expected.
    shown = pose_at(0.1)
    shown.pixels[NOSE] -= (0.0, 60.0)
    assert is_of_its_own(shown, [front], expected=shown)
    assert not is_of_its_own(shown, [front], expected=pose_at(2.0))
