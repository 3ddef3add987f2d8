"""How often a player does what coaches look for, each with its interval, over one clip or several.

What the rules of `stance.assessment.advice` read. Intervals are made as those of the shares
(`stance.statistics.shares`).
"""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from statistics import NormalDist, median
from typing import Literal, NamedTuple, Protocol

import numpy as np

from stance.measures.classes import DEFAULT_LIMITS
from stance.results.model import Pair, PlayerResult, ReadyPosition, Result, StrokeCounts
from stance.statistics.rallies import number_rallies, weighted_effective_number
from stance.statistics.shares import draw_members, share_interval, wilson_interval
from stance.types import LEADING, NOT_ASSESSED, Counted

Pattern = Literal["over_side_on", "racket_foot_in_front", "late", "on_the_move"]
"""What a player may do too often."""

Side = Literal["front", "back"]
"""Where the racket side is."""

Part = Literal["feet", "hips", "both"]
"""What is turned beyond the limit in an over-side-on stance."""
PARTS: tuple[Part, ...] = ("hips", "feet", "both")

LATE_S = 0.24
"""Both feet down later than this after the contact is late, seconds: by then the first foot of the
world's best leaves the floor again (docs/definitions.md)."""

OFTEN = 0.25
"""What is so surely more often than this is often: the limit of a habit in screenings, too."""


@dataclass(frozen=True)
class Tendency:
    """How often something was so: `count` times of `total`, and its share's 95 % interval."""

    count: int = 0
    total: int = 0
    interval: Pair = (0.0, 1.0)

    @property
    def is_often(self) -> bool:
        """Whether it is so surely more often than one time in four."""
        return self.interval[0] > OFTEN

    @property
    def is_rare(self) -> bool:
        """Whether it is so surely less often than one time in four."""
        return self.interval[1] < OFTEN

    @property
    def is_most(self) -> bool:
        """Whether it is so surely more often than not."""
        return self.interval[0] > 0.5


class CountedShare(Protocol):
    """A share with its count and interval, of one clip or pooled over several."""

    @property
    def count(self) -> int:
        """Number of the assessed ready positions that are so."""

    @property
    def interval(self) -> Pair:
        """95 %, 0 to 1."""


@dataclass(frozen=True)
class Tendencies:
    """How often a player does what; where nothing is known, the tendencies say nothing.

    Attributes
    ----------
    strokes
        faced in play, by how they were met; all 0 where none could be told
    right
        number of assessed ready positions that are square or slightly racket-leg-back, without a
        racket foot in front
    over_side_on, racket_foot_in_front
        of the assessed ready positions
    on_the_move
        of the strokes faced in play that were seen well enough
    late
        both feet down later than `LATE_S` after the contact: of the strokes met set whose contact
        is known by more than the player's own movement
    landing_s
        median time from the contact to both feet down in these, seconds; NaN without any
    from_part
        what is turned beyond the limit, of the over-side-on ready positions
    racket_side_in_front
        of the over-side-on ready positions
    feet_deg, hips_deg
        median lead angle and hip yaw of the over-side-on ready positions in which the commonest
        part is turned to the commonest side, degrees; NaN without any
    foot_in_front_deg
        median lead angle where the racket foot is in front, degrees; NaN without any
    from_left, from_right
        over-side-on, of the assessed ready positions for strokes that come from each half of the
        attacker's side of the court, as the player sees it
    on_left, on_right
        over-side-on, of the assessed ready positions on each half of the player's own side
    effective_part
        how many independent ready positions tell as much as one, 0 to 1
    """

    strokes: StrokeCounts = StrokeCounts()
    right: int = 0
    over_side_on: Tendency = Tendency()
    racket_foot_in_front: Tendency = Tendency()
    on_the_move: Tendency = Tendency()
    late: Tendency = Tendency()
    landing_s: float = math.nan
    from_part: Mapping[Part, Tendency] = field(
        default_factory=lambda: dict.fromkeys(PARTS, Tendency())
    )
    racket_side_in_front: Tendency = Tendency()
    feet_deg: float = math.nan
    hips_deg: float = math.nan
    foot_in_front_deg: float = math.nan
    from_left: Tendency = Tendency()
    from_right: Tendency = Tendency()
    on_left: Tendency = Tendency()
    on_right: Tendency = Tendency()
    effective_part: float = 1.0


def tendencies_of_clip(result: Result, player: PlayerResult) -> Tendencies:
    """How often a player does what in one clip.

    Parameters
    ----------
    result
        of the clip
    player
        one of its players
    """
    rallies = number_rallies(len(player.ready_positions), player.strokes_faced)
    assessed = [
        index
        for index in player.counted_indices
        if player.ready_positions[index].stance_class != NOT_ASSESSED
    ]
    effective = 0.0
    if assessed:
        effective = weighted_effective_number(np.ones(len(assessed)), rallies[assessed])
    shares: dict[Counted, CountedShare] = {name: share for name, share in player.shares.items()}
    if player.racket_foot_leading is not None:
        shares[LEADING] = player.racket_foot_leading
    return gather_tendencies([(result, player)], shares, effective)


def gather_tendencies(
    clips: Sequence[tuple[Result, PlayerResult]],
    shares: Mapping[Counted, CountedShare],
    effective: float,
) -> Tendencies:
    """How often a player does what over several clips.

    Parameters
    ----------
    clips
        results, and which of its players is meant
    shares
        of over-side-on and, where known, of a racket foot in front, over all these clips
    effective
        how many independent ready positions tell as much as the assessed ones
    """
    looks = [look for result, player in clips for look in _list_looks(result, player)]
    positions = [look.position for look in looks]
    part = min(effective / len(positions), 1.0) if positions else 1.0
    over = [p for p in positions if p.stance_class == "over_side_on"]
    leading = [p for p in positions if p.has_leading_foot]
    strokes = sum((player.stroke_counts for _, player in clips), StrokeCounts())
    landings = [landing for _, player in clips for landing in _list_landings(player)]
    limit = _side_on_limit(clips)
    beyond = [_part_beyond(p, limit) for p in over]
    typical = _typical(over, beyond)
    in_front = [p.racket_side_leads for p in over]
    return Tendencies(
        strokes=strokes,
        right=sum(p.stance_class != "over_side_on" and not p.has_leading_foot for p in positions),
        over_side_on=_known(shares, "over_side_on", len(positions)),
        racket_foot_in_front=_known(shares, LEADING, len(positions)),
        on_the_move=_counted(strokes.on_the_move, strokes.on_the_move + strokes.met_set, part),
        late=_doubtful(
            [after > LATE_S for after, _ in landings],
            [_chance_beyond(after, se, LATE_S) for after, se in landings],
            part,
        ),
        landing_s=median(after for after, _ in landings) if landings else math.nan,
        from_part=_from_parts(over, beyond, limit, part),
        racket_side_in_front=_counted(sum(in_front), len(in_front), part),
        feet_deg=_median([p.lead_angle_deg for p in typical]),
        hips_deg=_median([p.hip_yaw_deg for p in typical]),
        foot_in_front_deg=_median([p.lead_angle_deg for p in leading]),
        from_left=_over_where([p for p, _, x in looks if x < 0], part),
        from_right=_over_where([p for p, _, x in looks if x > 0], part),
        on_left=_over_where([p for p, x, _ in looks if x < 0], part),
        on_right=_over_where([p for p, x, _ in looks if x > 0], part),
        effective_part=part,
    )


class _Look(NamedTuple):
    """An assessed ready position, where the player stands and where the stroke comes from.

    Metres to the right of the court's middle as the player sees it; NaN where not known.
    """

    position: ReadyPosition
    own_x: float
    attacker_x: float


def _list_looks(result: Result, player: PlayerResult) -> list[_Look]:
    """The counted ready positions of a player that have a class."""
    strokes, assumed = player.stroke_of, result.court.source == "assumed"
    return [
        _Look(
            position,
            math.nan if assumed else position.base_m[0],
            strokes[index].attacker_m[0] if index in strokes else math.nan,
        )
        for index in player.counted_indices
        for position in [player.ready_positions[index]]
        if position.stance_class != NOT_ASSESSED
    ]


def _known(shares: Mapping[Counted, CountedShare], what: Counted, total: int) -> Tendency:
    """A tendency whose share is known already."""
    share = shares.get(what)
    return (
        Tendency() if share is None or not total else Tendency(share.count, total, share.interval)
    )


def _counted(count: int, total: int, effective_part: float) -> Tendency:
    """A tendency of things of which each is known for sure."""
    if not total:
        return Tendency()
    return Tendency(count, total, wilson_interval(count * effective_part, total * effective_part))


def _doubtful(members: Sequence[bool], chances: Sequence[float], effective_part: float) -> Tendency:
    """A tendency of things that are so with some chance each."""
    total = len(members)
    if not total:
        return Tendency()
    share = sum(members) / total
    drawn = draw_members(np.array(chances)).mean(axis=1)
    return Tendency(sum(members), total, share_interval(share, drawn, total * effective_part))


def _list_landings(player: PlayerResult) -> list[tuple[float, float]]:
    """Time from contact to both feet down at each stroke in play that can tell, and its error."""
    return [
        (position.start_s - stroke.time_s, stroke.time_se_s)
        for stroke in player.strokes_faced
        if not stroke.serve and {"seen", "heard"} & {*stroke.known_by}
        for position in [player.position_of(stroke)]
        if position is not None
    ]


def _side_on_limit(clips: Sequence[tuple[Result, PlayerResult]]) -> float:
    """The limit of over-side-on that the clips were judged by, degrees."""
    for result, _ in clips:
        return float(result.settings.get("side_on_deg", DEFAULT_LIMITS.side_on_deg))
    return DEFAULT_LIMITS.side_on_deg


def _part_beyond(position: ReadyPosition, limit: float) -> Part:
    """What is turned beyond the limit; the larger angle where measured neither is."""
    feet, hips = abs(position.lead_angle_deg), abs(position.hip_yaw_deg)
    if feet > limit and hips > limit:
        return "both"
    return "feet" if feet > hips else "hips"


def _from_parts(
    over: Sequence[ReadyPosition], beyond: Sequence[Part], limit: float, effective_part: float
) -> dict[Part, Tendency]:
    """How often each part is what is turned; `beyond` is what is measured, (over,)."""
    chances = [_chances_of_parts(p, limit, found) for p, found in zip(over, beyond, strict=True)]
    return {
        name: _doubtful(
            [found == name for found in beyond],
            [chance[name] for chance in chances],
            effective_part,
        )
        for name in PARTS
    }


def _chances_of_parts(position: ReadyPosition, limit: float, found: Part) -> dict[Part, float]:
    """How likely each part is what turns an over-side-on ready position."""
    feet, hips = (
        _chance_beyond(abs(angle), error, limit)
        for angle, error in (
            (position.lead_angle_deg, position.lead_angle_se_deg),
            (position.hip_yaw_deg, position.hip_yaw_se_deg),
        )
    )
    either = feet + hips - feet * hips
    if either <= 0:
        return {name: float(name == found) for name in PARTS}
    return {
        "feet": feet * (1 - hips) / either,
        "hips": hips * (1 - feet) / either,
        "both": feet * hips / either,
    }


def _chance_beyond(value: float, error: float, limit: float) -> float:
    """How likely a measured value truly lies above a limit."""
    if math.isfinite(error) and error > 0:
        return NormalDist(value, error).cdf(2 * value - limit)
    return float(value > limit)


def _typical(over: Sequence[ReadyPosition], beyond: Sequence[Part]) -> list[ReadyPosition]:
    """The over-side-on ready positions of the commonest part and, of these, the commonest side."""
    ways = Counter(beyond).most_common(1)
    of_part = [p for p, found in zip(over, beyond, strict=True) if found == ways[0][0]]
    in_front = [p for p in of_part if p.racket_side_leads]
    return (
        in_front
        if 2 * len(in_front) > len(of_part)
        else [p for p in of_part if not p.racket_side_leads]
    )


def _median(values: Sequence[float]) -> float:
    """The median; NaN of nothing."""
    return median(values) if values else math.nan


def _over_where(positions: Sequence[ReadyPosition], effective_part: float) -> Tendency:
    """Over-side-on among some ready positions."""
    members = [p.stance_class == "over_side_on" for p in positions]
    return _doubtful(members, [p.probabilities["over_side_on"] for p in positions], effective_part)
