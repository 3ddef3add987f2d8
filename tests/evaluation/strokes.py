"""True strokes and the found ones, one to one by time."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import linear_sum_assignment

from stance.results.measures_table import MEASURES
from stance.results.model import OwnStroke, PlayerResult, ReadyPosition, StrokeFaced

WITHIN_S = 0.15
MEASURE_OF = {m.field: m for m in MEASURES if m.part is None}
JUDGED = ("hip_yaw_deg", "lead_angle_deg", "foot_stagger_m")


@dataclass(frozen=True)
class TrueStroke:
    """A stroke as it was; `met` and all after it are None, or empty, where not known.

    `errors` are standard errors of `measures` that are themselves not known exactly.
    """

    time_s: float
    serve: bool
    met: str | None = None
    landing_s: float | None = None
    leaving_s: float | None = None
    measures: dict[str, float] = field(default_factory=dict)
    errors: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class FoundStroke:
    """A stroke as the tool reports it, with its ready position where it has one."""

    time_s: float
    se_s: float
    serve: bool = False
    met: str = "not_seen"
    known_by: tuple[str, ...] = ()
    position: ReadyPosition | None = None


@dataclass(frozen=True)
class Setting:
    """The clip of a stroke: its name, its view, what is opposite, whether the hand is right.

    `hand_right` is False where the tool took the wrong hand, so that all signs are wrong.
    """

    clip: str
    view: str
    opposite: str
    hand_right: bool = True


@dataclass(frozen=True)
class Row:
    """A true stroke, a found one, or both where they are the same."""

    setting: Setting
    true: TrueStroke | None
    found: FoundStroke | None

    @property
    def error_s(self) -> float:
        """Found time less true time, of both."""
        return self.found.time_s - self.true.time_s


def match_times(found: Sequence[float], true: Sequence[float]) -> list[tuple[int, int]]:
    """Pairs (found, true) of times within `WITHIN_S` of each other, one to one.

    As many pairs as there can be, and of these choices the one with the least sum of distances
    (the assignment problem, scipy.optimize.linear_sum_assignment).
    """
    away = np.abs(np.subtract.outer(np.asarray(found, float), np.asarray(true, float)))
    # One pair more is worth more than all distances together.
    cost = np.where(away <= WITHIN_S, away, WITHIN_S * (1 + min(away.shape)))
    pairs = zip(*linear_sum_assignment(cost), strict=True)
    return [(int(f), int(t)) for f, t in pairs if away[f, t] <= WITHIN_S]


def pair_strokes(
    setting: Setting, true: Sequence[TrueStroke], found: Sequence[FoundStroke]
) -> list[Row]:
    """One row for each true stroke, and one for each found stroke that is none."""
    found_of = {t: f for f, t in match_times([s.time_s for s in found], [s.time_s for s in true])}
    rows = [
        Row(setting, stroke, found[found_of[k]] if k in found_of else None)
        for k, stroke in enumerate(true)
    ]
    used = set(found_of.values())
    return rows + [Row(setting, None, s) for k, s in enumerate(found) if k not in used]


def found_faced(player: PlayerResult | None) -> list[FoundStroke]:
    """The strokes that a player faces, as reported."""
    return [] if player is None else [_found_faced(player, s) for s in player.strokes_faced]


def found_own(player: PlayerResult | None) -> list[FoundStroke]:
    """A player's own strokes, as reported."""
    strokes: Sequence[OwnStroke] = () if player is None else player.own_strokes
    return [FoundStroke(stroke.time_s, stroke.time_se_s) for stroke in strokes]


def _found_faced(player: PlayerResult, stroke: StrokeFaced) -> FoundStroke:
    index = stroke.ready_position
    return FoundStroke(
        stroke.time_s,
        stroke.time_se_s,
        stroke.serve,
        stroke.met,
        stroke.known_by,
        None if index is None else player.ready_positions[index],
    )
