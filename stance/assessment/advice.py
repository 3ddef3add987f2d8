"""What to do, in at most three sentences, by the rules of docs/advice.md.

The rules read tendencies with their intervals and say only what these carry.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from stance.assessment.angle_words import turned_words
from stance.assessment.tendencies import LATE_S, OFTEN, PARTS, Part, Tendencies, Tendency
from stance.measures.classes import DEFAULT_LIMITS
from stance.statistics.shares import wilson_interval

Pattern = Literal["over_side_on", "racket_foot_in_front", "late", "on_the_move"]
"""What a player may do too often."""

AdviceKind = Literal[Pattern, "right", "watch", "too_few"]
"""Which rule spoke: a pattern to work on, praise, a habit that is not sure, or too few to tell."""

Side = Literal["front", "back"]
"""Where the racket side is."""

_PATTERN_WORDS: dict[Pattern, str] = {
    "over_side_on": "over-side-on",
    "racket_foot_in_front": "racket foot in front",
    "late": "both feet down late",
    "on_the_move": "met on the move",
}

_PART_WORDS: dict[Part, str] = {
    "hips": "the hips alone",
    "feet": "the feet alone",
    "both": "feet and hips together",
}

_BLOCKED: dict[Side | None, str] = {
    "back": "as it is, the body blocks the arm on the backhand side",
    "front": "as it is, the body blocks the arm on the forehand side",
    None: "side-on, the body blocks the arm on one side",
}

_MOST_MORE = 60
"""More strokes than these are not asked for: the share is then close to the limit itself."""


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
        the sentence on which count and interval decided
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
        "over_side_on": _over_side_on,
        "racket_foot_in_front": _racket_foot_in_front,
        "late": _late,
        "on_the_move": _on_the_move,
    }[first](tendencies)
    if others := [_count_words(other, found[other]) for other in often[1:]]:
        pattern += f"; also {' and '.join(others)}"
    return Advice(first, f"{pattern}.", source, work_on, _decided_by(first, found[first]))


def _by_pattern(tendencies: Tendencies) -> Mapping[Pattern, Tendency]:
    """The tendency behind each pattern."""
    return {
        "over_side_on": tendencies.over_side_on,
        "racket_foot_in_front": tendencies.racket_foot_in_front,
        "late": tendencies.late,
        "on_the_move": tendencies.on_the_move,
    }


def _moments(tendencies: Tendencies) -> str:
    """What the ready positions are called."""
    return "strokes met set" if tendencies.strokes.in_play else "waits"


def _count_words(pattern: Pattern, found: Tendency) -> str:
    """A pattern and its count in a few words."""
    return f"{_PATTERN_WORDS[pattern]} at {found.count} of {found.total}"


def _over_side_on(tendencies: Tendencies) -> tuple[str, str, str]:
    """What to say of somebody who is often over-side-on: pattern, where from, what to do."""
    part = next((name for name in PARTS if tendencies.from_part[name].is_most), None)
    side = _most_common_side(tendencies.racket_side_in_front)
    return (
        _count_over_side_on(tendencies),
        f"{_where_from(tendencies, part, side)}{_on_which_half(tendencies)}.",
        f"{_turn(part, side)}; {_BLOCKED[side]}.",
    )


def _count_over_side_on(tendencies: Tendencies) -> str:
    """How often the player is over-side-on, and which side is then in front; no full stop."""
    over, front = tendencies.over_side_on, tendencies.racket_side_in_front
    back = front.total - front.count
    side = f"the racket side in front at {front.count} and back at {back}"
    if not back:
        side = "the racket side in front"
    elif not front.count:
        side = "the racket side back"
    return f"Over-side-on at {over.count} of {over.total} {_moments(tendencies)}, {side}"


def _where_from(tendencies: Tendencies, part: Part | None, side: Side | None) -> str:
    """What is turned in the over-side-on stances; no full stop.

    Angles are told only where they are to one side.
    """
    feet, hips = tendencies.feet_deg, tendencies.hips_deg
    feet_words, hips_words = ("", "")
    if side is not None:
        feet_words, hips_words = f" ({turned_words(feet)})", f" ({turned_words(hips)})"
    if part == "hips":
        fine = (
            "are fine"
            if -DEFAULT_LIMITS.side_on_deg <= feet <= DEFAULT_LIMITS.square_deg
            else "less so"
        )
        return f"It comes from the hips{hips_words}; the feet {fine}{feet_words}"
    if part == "feet":
        fine = "are fine" if abs(hips) <= DEFAULT_LIMITS.square_deg else "less so"
        return f"It comes from the feet{feet_words}; the hips {fine}{hips_words}"
    if part == "both":
        return f"Feet{feet_words} and hips{hips_words} are turned together"
    ways = [
        f"{words} at {tendencies.from_part[name].count}"
        for name, words in _PART_WORDS.items()
        if tendencies.from_part[name].count
    ]
    return f"It comes from {', '.join(ways)}"


def _on_which_half(tendencies: Tendencies) -> str:
    """On which half of the court it happens more, where the intervals lie apart; else nothing."""
    left, right = tendencies.on_left, tendencies.on_right
    for name, here, there in (("left", left, right), ("right", right, left)):
        if here.interval[0] > there.interval[1]:
            return (
                f"; above all on the {name} half of the court, {here.count} of {here.total} "
                f"against {there.count} of {there.total}"
            )
    return ""


def _most_common_side(front: Tendency) -> Side | None:
    """Where the racket side surely is more often than not; None where that can't be told."""
    if front.is_most:
        return "front"
    return "back" if front.interval[1] < 0.5 else None


def _turn(part: Part | None, side: Side | None) -> str:
    """What to work on by what is turned and to which side; no full stop."""
    if part == "hips":
        return "Work on the hips: turn the belt buckle to the attacker"
    if part == "feet" and side is not None:
        move = "bring the racket foot forward" if side == "back" else "draw the racket foot back"
        return f"Work on the feet: {move} until it is level with the other or half a shoe behind it"
    return (
        "Work on the landing: feet level or the racket foot half a shoe back, the belt buckle to "
        "the attacker"
    )


def _racket_foot_in_front(tendencies: Tendencies) -> tuple[str, str, str]:
    """What to say of somebody whose racket foot is often in front; as `_over_side_on`."""
    front = tendencies.racket_foot_in_front
    return (
        f"Racket foot in front at {front.count} of {front.total} {_moments(tendencies)}, by "
        f"{tendencies.foot_in_front_deg:.0f}°",
        "Level, or half a shoe behind the other, it leaves the arm free on both sides.",
        "Work on the feet: land with the racket foot level with the other or half a shoe behind "
        "it.",
    )


def _late(tendencies: Tendencies) -> tuple[str, str, str]:
    """What to say of somebody who often lands late; as `_over_side_on`."""
    late = tendencies.late
    return (
        f"Both feet down late at {late.count} of {late.total} strokes met set, "
        f"typically {tendencies.landing_s:.2f} s after the hit",
        f"By {LATE_S} s after the hit the best players are on their way again.",
        "Work on the timing: hop as the attacker swings, so that both feet are down at the hit.",
    )


def _on_the_move(tendencies: Tendencies) -> tuple[str, str, str]:
    """What to say of somebody who is often on the move; as `_over_side_on`."""
    moving, over = tendencies.on_the_move, tendencies.over_side_on
    source = ""
    if over.is_rare:
        source = f"When set, the stance is right: {tendencies.right} of {over.total}."
    return (
        f"Met on the move: {moving.count} of {moving.total} strokes",
        source,
        "Work on stopping: a small hop and both feet down before the hit, even where the place is "
        "not yet the best.",
    )


def _advise_without_pattern(tendencies: Tendencies) -> Advice:
    """Praise, or that it can't be told yet."""
    over, moments = tendencies.over_side_on, _moments(tendencies)
    decided_by = _decided_by("over_side_on", over)
    if over.is_rare:
        return Advice(
            "right",
            f"Square or racket leg slightly back at {tendencies.right} of {over.total} {moments}: "
            "that is right.",
            _describe_rest(tendencies),
            "Nothing to mend: keep it, and see whether it holds against faster attacks.",
            decided_by,
        )
    if over.count > OFTEN * over.total:
        return _advise_to_watch(tendencies)
    pattern = f"Over-side-on at {over.count} of {over.total} {moments}."
    if not over.total:
        pattern = "No stance could be judged."
    elif tendencies.right == over.total:
        pattern = f"Square or racket leg slightly back at all {over.total} {moments}."
    more = _count_more(over, tendencies.effective_part)
    return Advice(
        "too_few",
        pattern,
        "Too few to tell a habit from chance." if more else "Near one in four: it may be a habit.",
        f"{_ask_for(more)} before changing anything.",
        decided_by,
    )


def _advise_to_watch(tendencies: Tendencies) -> Advice:
    """That over-side-on may be a habit."""
    over, front = tendencies.over_side_on, tendencies.racket_side_in_front
    more = _count_more(over, tendencies.effective_part)
    return Advice(
        "watch",
        f"{_count_over_side_on(tendencies)}; it may be a habit, but that is not sure yet.",
        f"{_where_from(tendencies, None, _most_common_side(front))}.",
        f"Look at the pictures with the player; {_ask_for(more).lower()} before changing anything.",
        _decided_by("over_side_on", over),
    )


def _ask_for(more: int) -> str:
    """What to film for an answer; no full stop."""
    return f"Film about {more} more" if more else "Film another day"


def _describe_rest(tendencies: Tendencies) -> str:
    """What to say beside praise: a racket foot that is in front, or that the landing is in time."""
    front = tendencies.racket_foot_in_front
    if front.count and not front.is_rare:
        return f"Watch the racket foot: it was in front at {front.count} of {front.total}."
    return "Both feet are down in time." if tendencies.late.is_rare else ""


def _count_more(over: Tendency, effective_part: float) -> int:
    """How many more ready positions would tell if they were alike, in fives; 0 for very many."""
    share = over.count / over.total if over.total else 0.0
    for more in range(5, _MOST_MORE + 1, 5):
        effective = (over.total + more) * effective_part
        low, high = wilson_interval(share * effective, effective)
        if low > OFTEN or high < OFTEN:
            return more
    return 0


def _decided_by(pattern: Pattern, found: Tendency) -> str:
    """Which count and interval decided."""
    if not found.total:
        return ""
    low, high = (100 * end for end in found.interval)
    meaning = "this may be more or less than one in four"
    if found.is_often:
        meaning = "more than one in four"
    elif found.is_rare:
        meaning = "less than one in four"
    return (
        f"Why: {_count_words(pattern, found)}, likely range {low:.0f} to {high:.0f} %, {meaning}."
    )
