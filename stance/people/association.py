"""Whether two poses are the same person."""

from collections.abc import Sequence

import numpy as np

from stance.people.appearance import APART, FAR_APART, MOST_HIDDEN, TRUNK, hidden
from stance.people.candidates import Candidate
from stance.people.landmarks import Pose
from stance.types import FloatArray

# Poses whose trunks are nearer to each other than this part of a player's height are of the
# same person.
_SAME_PERSON = 0.1

# Poses whose trunks are further apart than this part of the taller one's height are of two.
_TWO_PEOPLE = 0.3


def told_apart(pose: Pose, others: Sequence[Pose], expected: Pose | None = None) -> bool:
    """Whether a pose seen past others is not made of what is left of them.

    Somebody whose head shows is told apart also where they are `expected`.
    """
    if not others:
        return True
    apart = min(
        float(np.linalg.norm((pose.pixels - other.pixels).mean(axis=0)))
        / float(np.ptp(other.pixels[:, 1]))
        for other in others
    )
    if apart >= FAR_APART:
        return True
    share, nose = hidden(pose, others)
    return share <= MOST_HIDDEN or (
        not nose and (apart >= APART or (expected is not None and same_person(pose, expected)))
    )


def same_person(one: Pose, two: Pose) -> bool:
    """Whether two poses of a frame are of the same person."""
    height = max(np.ptp(one.pixels[:, 1]), np.ptp(two.pixels[:, 1]))
    apart = np.linalg.norm((one.pixels - two.pixels)[TRUNK], axis=-1).mean()
    return bool(apart < _SAME_PERSON * height)


def trunks_apart(one: FloatArray, two: FloatArray) -> float:
    """How far apart the middles of two trunks are; (33, 2) pixels each."""
    return float(np.linalg.norm((one - two)[TRUNK].mean(axis=0)))


def two_people(one: Pose, two: Pose) -> bool:
    """Whether two poses of a frame are so far apart that they are of two people for sure."""
    height = max(np.ptp(one.pixels[:, 1]), np.ptp(two.pixels[:, 1]))
    return bool(trunks_apart(one.pixels, two.pixels) >= _TWO_PEOPLE * height)


def better_pose(known: Pose, one: Pose, two: Pose) -> bool:
    """Whether a pose clearly is one of two people, and not the other."""
    return not same_person(one, two) and (
        trunks_apart(known.pixels, one.pixels) < 0.5 * trunks_apart(known.pixels, two.pixels)
    )


def nearest_candidate(candidates: Sequence[Candidate], expected: Pose) -> Pose | None:
    """The pose whose trunk is nearest to an expected one's, if it may be the same person's."""

    def away(pose: Pose) -> float:
        return trunks_apart(pose.pixels, expected.pixels)

    nearest = min((candidate.pose for candidate in candidates), key=away, default=None)
    if nearest is None or away(nearest) > _TWO_PEOPLE * float(np.ptp(expected.pixels[:, 1])):
        return None
    return nearest


def different_candidates(candidates: Sequence[Candidate]) -> list[Candidate]:
    """Leave out further poses of the same person."""
    kept: list[Candidate] = []
    for candidate in candidates:
        if not any(same_person(candidate.pose, other.pose) for other in kept):
            kept.append(candidate)
    return kept
