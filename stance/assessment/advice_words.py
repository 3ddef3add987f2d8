"""The sentences of the advice; which of them is said, `stance.assessment.advice` decides."""

from stance.assessment.angle_words import turned_words
from stance.assessment.tendencies import LATE_S, Part, Pattern, Side, Tendencies, Tendency
from stance.measures.classes import DEFAULT_LIMITS
from stance.runtime.language import format_number, join_words
from stance.runtime.language import gettext as _


def count_pattern(pattern: Pattern, found: Tendency) -> str:
    """A pattern and its count in a few words."""
    words = {
        "over_side_on": _("over-side-on at {count} of {total}"),
        "racket_foot_in_front": _("racket foot in front at {count} of {total}"),
        "late": _("both feet down late at {count} of {total}"),
        "on_the_move": _("met on the move {count} of {total}"),
    }[pattern]
    return words.format(count=found.count, total=found.total)


def count_over_side_on(tendencies: Tendencies) -> str:
    """How often the player is over-side-on, and which side is then in front; no full stop."""
    over, front = tendencies.over_side_on, tendencies.racket_side_in_front
    back = front.total - front.count
    if not over.count:
        words = _("Over-side-on at {times}")
    elif not back:
        words = _("Over-side-on at {times}, the racket side in front")
    elif not front.count:
        words = _("Over-side-on at {times}, the racket side back")
    else:
        words = _("Over-side-on at {times}, the racket side in front at {front} and back at {back}")
    return words.format(times=count_times(tendencies, over.count), front=front.count, back=back)


def count_times(tendencies: Tendencies, count: int) -> str:
    """So many of the ready positions, in words."""
    played = tendencies.strokes.in_play
    words = _("{count} of {total} strokes met set") if played else _("{count} of {total} waits")
    return words.format(count=count, total=tendencies.over_side_on.total)


def say_where_from(tendencies: Tendencies, part: Part | None, side: Side | None) -> str:
    """What is turned in the over-side-on stances; no full stop.

    Parameters
    ----------
    tendencies
        of the player
    part
        what is mostly turned; None where each is counted
    side
        the racket side's place in most of them; None where that can't be told, and so no angles are
    """
    if part is None:
        ways = {
            "hips": _("the hips alone at {count}"),
            "feet": _("the feet alone at {count}"),
            "both": _("feet and hips together at {count}"),
        }
        counted = {name: tendencies.from_part[name].count for name in tendencies.from_part}
        told = [ways[name].format(count=count) for name, count in counted.items() if count]
        return _("It comes from {ways}").format(ways=join_words(told))
    feet, hips = tendencies.feet_deg, tendencies.hips_deg
    if part == "both":
        words = _("Feet{feet} and hips{hips} are turned together")
    elif part == "hips":
        fine = -DEFAULT_LIMITS.side_on_deg <= feet <= DEFAULT_LIMITS.square_deg
        words = (
            _("It comes from the hips{hips}; the feet are fine{feet}")
            if fine
            else _("It comes from the hips{hips}, less so from the feet{feet}")
        )
    elif abs(hips) <= DEFAULT_LIMITS.square_deg:
        words = _("It comes from the feet{feet}; the hips are fine{hips}")
    else:
        words = _("It comes from the feet{feet}, less so from the hips{hips}")
    feet_words, hips_words = (
        "" if side is None else f" ({turned_words(angle)})" for angle in (feet, hips)
    )
    return words.format(feet=feet_words, hips=hips_words)


def say_where(tendencies: Tendencies) -> str:
    """From or on which half of the court it happens more, where intervals lie apart; else nothing.

    Where the attack comes from goes before where the player stands.
    """
    attack = tendencies.from_left, tendencies.from_right
    place = tendencies.on_left, tendencies.on_right
    for words, here, there in (
        (_("above all when the attack comes from the left, {here} against {there}"), *attack),
        (
            _("above all when the attack comes from the right, {here} against {there}"),
            *attack[::-1],
        ),
        (_("above all on the left half of the court, {here} against {there}"), *place),
        (_("above all on the right half of the court, {here} against {there}"), *place[::-1]),
    ):
        if here.interval[0] > there.interval[1]:
            counts = [
                _("{count} of {total}").format(count=half.count, total=half.total)
                for half in (here, there)
            ]
            return words.format(here=counts[0], there=counts[1])
    return ""


def say_how_to_turn(part: Part | None, side: Side | None) -> str:
    """What somebody over-side-on is to work on, and why; parameters as for `say_where_from`."""
    if part == "hips":
        work = _("Work on the hips: turn the belt buckle to the attacker")
    elif part == "feet" and side == "back":
        work = _(
            "Work on the feet: bring the racket foot forward until it is level with the other or "
            "half a shoe behind it"
        )
    elif part == "feet" and side == "front":
        work = _(
            "Work on the feet: draw the racket foot back until it is level with the other or half "
            "a shoe behind it"
        )
    else:
        work = _(
            "Work on the landing: feet level or the racket foot half a shoe back, the belt buckle "
            "to the attacker"
        )
    why = {
        "back": _("as it is, the body blocks the arm on the backhand side"),
        "front": _("as it is, the body blocks the arm on the forehand side"),
        None: _("side-on, the body blocks the arm on one side"),
    }[side]
    return _("{work}; {why}.").format(work=work, why=why)


def say_foot_in_front(tendencies: Tendencies) -> tuple[str, str, str]:
    """What the pattern is (no full stop), what else is so, and what to work on."""
    pattern = _("Racket foot in front at {times}, by {angle}°").format(
        times=count_times(tendencies, tendencies.racket_foot_in_front.count),
        angle=format_number(tendencies.foot_in_front_deg),
    )
    return (
        pattern,
        _("Level, or half a shoe behind the other, it leaves the arm free on both sides."),
        _("Work on the feet: land with the racket foot level with the other or half a shoe back."),
    )


def say_late(tendencies: Tendencies) -> tuple[str, str, str]:
    """As `say_foot_in_front`, of late landings."""
    pattern = _(
        "Both feet down late at {count} of {total} strokes met set, typically {landing} s after "
        "the hit"
    )
    return (
        pattern.format(
            count=tendencies.late.count,
            total=tendencies.late.total,
            landing=format_number(tendencies.landing_s, 2),
        ),
        _("By {late} s after the hit the best players are on their way again.").format(
            late=format_number(LATE_S, 2)
        ),
        _("Work on the timing: hop as the attacker swings, so that both feet are down at the hit."),
    )


def say_on_the_move(tendencies: Tendencies) -> tuple[str, str, str]:
    """As `say_foot_in_front`, of strokes met on the move."""
    moving, over = tendencies.on_the_move, tendencies.over_side_on
    right = _("When set, the stance is right at {count} of {total}.")
    return (
        _("Met on the move: {count} of {total} strokes").format(
            count=moving.count, total=moving.total
        ),
        right.format(count=tendencies.right, total=over.total) if over.is_rare else "",
        _(
            "Work on stopping: a small hop and both feet down before the hit, even where the place "
            "is not yet the best."
        ),
    )


def say_all_right(tendencies: Tendencies) -> tuple[str, str, str]:
    """As `say_foot_in_front`, where there is nothing to mend; the first with its full stop."""
    front, beside = tendencies.racket_foot_in_front, ""
    if front.count and not front.is_rare:
        beside = _("Watch the racket foot: it was in front at {count} of {total}.").format(
            count=front.count, total=front.total
        )
    elif tendencies.late.is_rare:
        beside = _("Both feet are down in time.")
    return (
        _("Square or racket leg slightly back at {times}: that is right.").format(
            times=count_times(tendencies, tendencies.right)
        ),
        beside,
        _("Nothing to mend: keep it, and see whether it holds against faster attacks."),
    )


def say_too_few(tendencies: Tendencies, more: int, few: bool) -> tuple[str, str, str]:
    """As `say_all_right`, where nothing can be told; `more` would do, 0 for very many.

    `few` is whether so few can tell nothing whatever they show.
    """
    over = tendencies.over_side_on
    if not over.total:
        pattern = _("No stance could be judged.")
    elif tendencies.right == over.total:
        pattern = _("Square or racket leg slightly back at {times}.").format(
            times=count_times(tendencies, over.total)
        )
    else:
        pattern = f"{count_over_side_on(tendencies)}."
    if more or few:
        source = _("That is too few to tell a habit from chance.")
    else:
        source = _("That is near one in four, so it may be a habit or not.")
    if more:
        played = _("Film about {more} more strokes before changing anything.")
        waited = _("Film about {more} more waits before changing anything.")
        work = (played if tendencies.strokes.in_play else waited).format(more=more)
    else:
        work = _("Film another day before changing anything.")
    return pattern, source, work


def say_to_watch(tendencies: Tendencies, more: int, side: Side | None) -> tuple[str, str, str]:
    """As `say_too_few`, where over-side-on may be a habit; `side` as for `say_where_from`."""
    if more:
        work = (
            _(
                "Look at the pictures with the player; film about {more} more strokes before "
                "changing anything."
            )
            if tendencies.strokes.in_play
            else _(
                "Look at the pictures with the player; film about {more} more waits before "
                "changing anything."
            )
        )
    else:
        work = _("Look at the pictures with the player; film another day before changing anything.")
    return (
        _("{pattern}; it may be a habit, but that is not sure yet.").format(
            pattern=count_over_side_on(tendencies)
        ),
        f"{say_where_from(tendencies, None, side)}.",
        work.format(more=more),
    )


def say_why(pattern: Pattern, found: Tendency) -> str:
    """Which count and interval decided; empty where nothing was counted."""
    if not found.total:
        return ""
    if found.is_often:
        words = _("Why: {counted}, likely range {low} to {high} %, more than one in four.")
    elif found.is_rare:
        words = _("Why: {counted}, likely range {low} to {high} %, less than one in four.")
    else:
        words = _(
            "Why: {counted}, likely range {low} to {high} %, which may be more or less than one in "
            "four."
        )
    low, high = (format_number(100 * end) for end in found.interval)
    return words.format(counted=count_pattern(pattern, found), low=low, high=high)
