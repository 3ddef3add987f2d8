"""Ready positions that stand for others: the typical ones and the clearest ones, with pictures."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from stance.assessment.examples import clearness, is_right
from stance.comparison.clip_reports import ClipReports
from stance.measures.classes import DEFAULT_LIMITS
from stance.results.model import PlayerResult, ReadyPosition, Result
from stance.statistics.angles import circular_mean, wrap_degrees
from stance.types import CLASSES, StanceClass

# A stance that is taken less often than this is not called typical.
_TYPICAL_SHARE = 0.25

_MOST_TYPICAL = 2

# From this chance of its class on a ready position is clear.
_CLEAR = 0.8


@dataclass(frozen=True)
class Example:
    """A ready position and its picture.

    Attributes
    ----------
    result, player, number
        clip, which of its players, and which ready position, from 1
    picture
        an address that is whole in itself; empty where there is none
    """

    result: Result
    player: PlayerResult
    number: int
    picture: str = ""

    @property
    def position(self) -> ReadyPosition:
        """What was measured."""
        return self.player.ready_positions[self.number - 1]


Clips = Sequence[tuple[Result, PlayerResult]]
"""Clips, and which of their players is meant."""


def choose_typical(clips: Clips, reports: ClipReports) -> list[Example]:
    """A picture of each stance that is taken often, the commonest first.

    Of the ready positions of a stance, of the side that leads more often in it, the one whose feet
    and hips are nearest to their mean stands for it; a doubtful one only where there is no other.

    Parameters
    ----------
    clips
        one player's
    reports
        of the clips, which hold the pictures
    """
    members = {name: list(_list_members(clips, name)) for name in CLASSES}
    total = sum(map(len, members.values()))
    common = sorted(
        (name for name in CLASSES if len(members[name]) >= max(_TYPICAL_SHARE * total, 1)),
        key=lambda name: -len(members[name]),
    )
    examples = []
    for name in common[:_MOST_TYPICAL]:
        leading = [m for m in members[name] if m.position.racket_side_leads]
        back = [m for m in members[name] if not m.position.racket_side_leads]
        usual = leading if len(leading) > len(back) else back
        examples += _take_pictured(_sort_by_distance(usual), reports, 1)
    return examples


def choose_clearest(
    clips: Clips, stance_class: StanceClass, reports: ClipReports, most: int
) -> list[Example]:
    """The clearest ready positions of a stance that have a picture, the clearest first.

    Parameters
    ----------
    clips
        one player's
    stance_class
        that is wanted
    reports
        of the clips, which hold the pictures
    most
        so many at most
    """
    return _take_pictured(_sort_by_clearness(_list_members(clips, stance_class)), reports, most)


def choose_right(clips: Clips, reports: ClipReports) -> list[Example]:
    """The clearest ready position that is right, see `stance.assessment.examples.is_right`.

    Parameters as for `choose_clearest`; none or one.
    """
    members = [m for c in CLASSES for m in _list_members(clips, c) if is_right(m.position)]
    return _take_pictured(_sort_by_clearness(members), reports, 1)


def _list_members(clips: Clips, stance_class: StanceClass) -> Iterator[Example]:
    """The counted ready positions of a class, in the order of the clips."""
    for result, player in clips:
        for index in player.counted_indices:
            if player.ready_positions[index].stance_class == stance_class:
                yield Example(result, player, index + 1)


def _take_pictured(members: Sequence[Example], reports: ClipReports, most: int) -> list[Example]:
    """The first of some members that have a picture."""
    examples: list[Example] = []
    for member in members:
        if len(examples) == most:
            break
        picture = reports.picture(member.result, member.player, member.number)
        if picture:
            examples.append(replace(member, picture=picture))
    return examples


def _sort_by_clearness(members: Iterable[Example]) -> list[Example]:
    """The clearest first."""
    return sorted(members, key=lambda member: clearness(member.position), reverse=True)


def _sort_by_distance(members: Sequence[Example]) -> list[Example]:
    """Members by how far feet and hips are from their means, the doubtful ones last."""
    angles = np.array([[m.position.lead_angle_deg, m.position.hip_yaw_deg] for m in members])
    means = np.array([circular_mean(column) for column in angles.T])
    distances = np.hypot(*wrap_degrees(angles - means).T)
    doubtful = [not _is_clear(member.position) for member in members]
    return [members[index] for index in np.lexsort((distances, doubtful))]


def _is_clear(position: ReadyPosition) -> bool:
    """Whether a ready position is surely of its class, and fits it well."""
    fits = is_right(position)
    if position.stance_class == "over_side_on":
        fits = position.turned_deg > DEFAULT_LIMITS.side_on_deg
    return fits and clearness(position)[0] >= _CLEAR
