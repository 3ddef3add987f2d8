"""Observations that may show a player of the half."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stance.court.camera import Camera
from stance.people.appearance import colours_worn
from stance.people.floor import base_on_floor
from stance.people.half_court import stands_on_half
from stance.people.landmarks import HIPS, Box, Pose
from stance.people.observation import Observation
from stance.people.pose_match import is_of_its_own, same_person, trunk_distance
from stance.people.settings import SETTINGS
from stance.types import FloatArray
from stance.video.frame import Frame


@dataclass(frozen=True)
class Candidate:
    """Somebody seen in a frame who may be a player.

    Attributes
    ----------
    observation
        may be of an earlier frame, where a player rests
    place
        (2,) metres on the floor, in the frame of the half's camera; without a camera pixels
    colours
        (1024,) worn, as `colours_worn` returns them
    centred
        whether the pose model looked where the person is, and not beside
    """

    observation: Observation
    place: FloatArray
    colours: FloatArray
    centred: bool = True

    @property
    def pose(self) -> Pose:
        """The pose observed."""
        return self.observation.pose


@dataclass(frozen=True)
class Sought:
    """Whom observations are to show.

    Attributes
    ----------
    margin_m
        how far outside the lines of the half they may stand
    box
        the square in the middle of which they should be; None for anywhere
    others
        poses of people who may stand in front of them
    expected
        the pose that they should have
    """

    margin_m: float
    box: Box | None = None
    others: Sequence[Pose] = ()
    expected: Pose | None = None


def find_candidates(
    camera: Camera | None, frame: Frame, observations: Sequence[Observation], sought: Sought
) -> list[Candidate]:
    """Keep the observations that may show who is sought.

    Parameters
    ----------
    camera
        in the frame of the half; None where there is no court
    frame
        of the observations
    observations
        what a pose model found in the frame
    sought
        whom to expect, and where
    """
    candidates = []
    for observation in observations:
        pose = observation.pose
        middle = pose.pixels[HIPS].mean(axis=0)
        if not is_of_its_own(pose, sought.others, sought.expected):
            continue
        if sought.box is not None and not _is_in_middle(middle, sought.box):
            continue
        if camera is None:
            place = middle
        elif stands_on_half(camera, pose.pixels, sought.margin_m):
            place = base_on_floor(camera, pose.pixels)
        else:
            continue
        # What others cover says nothing of the colours.
        colours = colours_worn(frame, pose, sought.others)
        candidates.append(Candidate(observation, place, colours))
    return candidates


def distinct_candidates(candidates: Sequence[Candidate]) -> list[Candidate]:
    """Leave out further poses of the same person."""
    kept: list[Candidate] = []
    for candidate in candidates:
        if not any(same_person(candidate.pose, other.pose) for other in kept):
            kept.append(candidate)
    return kept


def nearest_candidate(candidates: Sequence[Candidate], expected: Pose) -> Observation | None:
    """Return who is nearest to an expected pose, by the trunk, if it may be the same person."""

    def away(candidate: Candidate) -> float:
        return trunk_distance(candidate.pose.pixels, expected.pixels)

    nearest = min(candidates, key=away, default=None)
    most = SETTINGS.pose_match.two_people_heights * float(np.ptp(expected.pixels[:, 1]))
    if nearest is None or away(nearest) > most:
        return None
    return nearest.observation


def _is_in_middle(place: FloatArray, box: Box) -> bool:
    """Whether a pixel (2,) is so near to a square's middle that the person is who was sought."""
    away = np.linalg.norm(place - (box.x + box.side / 2, box.y + box.side / 2))
    return not away > SETTINGS.observation.other_person_sides * box.side
