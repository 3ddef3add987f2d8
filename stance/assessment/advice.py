"""What to do, in at most three sentences, by the rules of docs/advice.md.

The rules read tendencies with their intervals and say only what these carry.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from stance.assessment.advice_words import (
    count_over_side_on,
    count_pattern,
    say_all_right,
    say_foot_in_front,
    say_how_to_turn,
    say_late,
    say_on_the_move,
    say_to_watch,
    say_too_few,
    say_where,
    say_where_from,
    say_why,
)
from stance.assessment.tendencies import OFTEN, PARTS, Pattern, Side, Tendencies, Tendency
from stance.runtime.language import gettext as _
from stance.runtime.language import join_words
from stance.statistics.shares import wilson_interval

AdviceKind = Literal[Pattern, "right", "watch", "too_few"]
"""Which rule spoke: a pattern to work on, praise, a habit that is not sure, or too few to tell."""

_MOST_MORE = 60
"""More strokes than these are not asked for: the share is then close to the limit itself."""

_FEW = 8.0
"""Fewer independent ready positions than this are few, whatever their share."""


@dataclass(frozen=True)
class Advice:
    """What a coach reads first.

    Attributes
    ----------
    kind
        which rule spoke
    pattern
        the sentence on what the player does
    source
        the sentence on where it comes from, or what else is so; may be empty
    work_on
        the sentence on the one thing to work on; where there is nothing to mend, to keep it
    decided_by
        the sentence on which count and interval decided; may be empty
    """

    kind: AdviceKind
    pattern: str
    source: str
    work_on: str
    decided_by: str

    @property
    def sentences(self) -> tuple[str, ...]:
        """The sentences on the player in their order, without an empty one."""
        return tuple(filter(None, (self.pattern, self.source, self.work_on)))


def advise(tendencies: Tendencies) -> Advice | None:
    """Choose what to say of a player first; None where nothing is known of them.

    Parameters
    ----------
    tendencies
        over one clip or several
    """
    if not tendencies.over_side_on.total and not tendencies.strokes.in_play:
        return None
    found = _by_pattern(tendencies)
    often = sorted(
        (pattern for pattern in found if found[pattern].is_often),
        key=lambda pattern: -found[pattern].interval[0],
    )
    if not often:
        return _advise_without_pattern(tendencies)
    first = often[0]
    pattern, source, work_on = {
        "over_side_on": _say_over_side_on,
        "racket_foot_in_front": say_foot_in_front,
        "late": say_late,
        "on_the_move": say_on_the_move,
    }[first](tendencies)
    if others := [count_pattern(other, found[other]) for other in often[1:]]:
        pattern = _("{pattern}; also {others}").format(pattern=pattern, others=join_words(others))
    return Advice(first, f"{pattern}.", source, work_on, say_why(first, found[first]))


def _by_pattern(tendencies: Tendencies) -> Mapping[Pattern, Tendency]:
    """The tendency behind each pattern."""
    return {
        "over_side_on": tendencies.over_side_on,
        "racket_foot_in_front": tendencies.racket_foot_in_front,
        "late": tendencies.late,
        "on_the_move": tendencies.on_the_move,
    }


def _say_over_side_on(tendencies: Tendencies) -> tuple[str, str, str]:
    """What the pattern is (no full stop), where it comes from, and what to work on."""
    part = next((name for name in PARTS if tendencies.from_part[name].is_most), None)
    side = _commonest_side(tendencies.racket_side_in_front)
    source = f"{say_where_from(tendencies, part, side)}."
    if where := say_where(tendencies):
        source = f"{source.removesuffix('.')}; {where}."
    return count_over_side_on(tendencies), source, say_how_to_turn(part, side)


def _commonest_side(front: Tendency) -> Side | None:
    """Where the racket side surely is more often than not; None where that can't be told."""
    if front.is_most:
        return "front"
    return "back" if front.interval[1] < 0.5 else None


def _advise_without_pattern(tendencies: Tendencies) -> Advice:
    """Praise, or that it can't be told yet."""
    over = tendencies.over_side_on
    why = say_why("over_side_on", over)
    if over.is_rare:
        return Advice("right", *say_all_right(tendencies), why)
    more = _count_more(over, tendencies.effective_part)
    few = over.total * tendencies.effective_part < _FEW
    if over.count > OFTEN * over.total and not few:
        side = _commonest_side(tendencies.racket_side_in_front)
        return Advice("watch", *say_to_watch(tendencies, more, side), why)
    return Advice("too_few", *say_too_few(tendencies, more, few), why)


def _count_more(over: Tendency, effective_part: float) -> int:
    """How many more ready positions would tell if they were alike, in fives; 0 for very many."""
    share = over.count / over.total if over.total else 0.0
    for more in range(5, _MOST_MORE + 1, 5):
        effective = (over.total + more) * effective_part
        low, high = wilson_interval(share * effective, effective)
        if low > OFTEN or high < OFTEN:
            return more
    return 0
