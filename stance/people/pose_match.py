"""Whether two poses of a frame are of the same person."""

from collections.abc import Sequence

import numpy as np

from stance.people.appearance import covered_by
from stance.people.landmarks import TRUNK, Pose
from stance.people.settings import SETTINGS
from stance.types import FloatArray


def same_person(first: Pose, second: Pose) -> bool:
    """Whether two poses of a frame are of the same person."""
    apart = np.linalg.norm((first.pixels - second.pixels)[TRUNK], axis=-1).mean()
    return bool(apart < SETTINGS.pose_match.same_person_heights * _taller_height(first, second))


def two_people(first: Pose, second: Pose) -> bool:
    """Whether two poses of a frame are so far apart that they are of two people for sure."""
    least = SETTINGS.pose_match.two_people_heights * _taller_height(first, second)
    return bool(trunk_distance(first.pixels, second.pixels) >= least)


def trunk_distance(first: FloatArray, second: FloatArray) -> float:
    """How far apart the middles of two trunks are, pixels.

    Parameters
    ----------
    first, second
        (33, 2) pixels
    """
    return float(np.linalg.norm((first - second)[TRUNK].mean(axis=0)))


def is_clearly_first(known: Pose, first: Pose, second: Pose) -> bool:
    """Whether a known pose clearly is the first of two people, and not the second."""
    return not same_person(first, second) and (
        trunk_distance(known.pixels, first.pixels)
        < SETTINGS.pose_match.clearly_nearer * trunk_distance(known.pixels, second.pixels)
    )


def is_of_its_own(pose: Pose, others: Sequence[Pose], expected: Pose | None = None) -> bool:
    """Whether a pose seen past others is a person, and not made of what is left of the others.

    Parameters
    ----------
    pose
        seen with the others painted over
    others
        poses of other people in the frame
    expected
        where the person should be; who shows the head there is believed
    """
    if not others:
        return True
    settings = SETTINGS.pose_match
    apart = min(
        float(np.linalg.norm((pose.pixels - other.pixels).mean(axis=0)))
        / float(np.ptp(other.pixels[:, 1]))
        for other in others
    )
    if apart >= settings.far_apart_heights:
        return True
    covered = covered_by(pose, others)
    return covered.share <= settings.most_hidden or (
        not covered.nose
        and (
            apart >= settings.apart_heights
            or (expected is not None and same_person(pose, expected))
        )
    )


def _taller_height(first: Pose, second: Pose) -> float:
    """Height of the taller of two poses, pixels."""
    return float(max(np.ptp(first.pixels[:, 1]), np.ptp(second.pixels[:, 1])))
