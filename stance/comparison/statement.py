"""A change in a coach's words."""

from collections.abc import Mapping

from stance.comparison.changes import MOST_MORE, WORTH_TELLING
from stance.comparison.model import MeasureChange, ShareChange
from stance.results.model import StrokeCounts

_BODY_PARTS = {"lead_angle_deg": "foot", "hip_yaw_deg": "hip"}


def describe_change(
    over: ShareChange,
    measures: Mapping[str, MeasureChange],
    filmed_differently: bool,
    one_clip: bool = False,
    players: int = 1,
) -> str:
    """The plain sentences; they never claim more than the intervals.

    Parameters
    ----------
    over
        change of the share of over-side-on
    measures
        change of each measure's mean, degrees
    filmed_differently
        whether filming differs between the sets
    one_clip
        whether a set is a single clip
    players
        how many were compared together
    """
    before, after = over.before, over.after
    if before.share is None or after.share is None:
        when = " and ".join(
            w for w, side in (("before", before), ("after", after)) if side.share is None
        )
        return f"Too few ready positions to tell: none could be assessed {when}."
    counts = (
        f"{before.count} of {before.assessed} assessed ready positions were over-side-on "
        f"before, {after.count} of {after.assessed} after"
    )
    if players > 1:
        counts = f"Over {players} players, {counts}"
    if over.verdict in ("up", "down"):
        sentences = [f"{counts}: {_describe_sure_change(over, players)}"]
        if filmed_differently:
            sentences.append("The two sets were filmed differently, which may be part of it.")
        if one_clip:
            sentences.append(
                "With a single clip in a set this may be that day only: too few "
                "clips to tell how much days differ."
            )
    elif over.verdict == "steady":
        low, high = (_format_points(end) for end in over.interval)
        sentences = [
            f"{counts}: no change was seen, and one of {100 * WORTH_TELLING:.0f} points or more is "
            f"ruled out ({low} to {high} points)."
        ]
    else:
        sentences = [f"{counts}: {_describe_too_few(over, players)}"]
    return " ".join([*sentences, *_describe_angles(measures)])


def describe_strokes(before: StrokeCounts, after: StrokeCounts) -> list[str]:
    """How many of the strokes faced were met on the move; nothing where none could be told."""
    told = [(side, when) for side, when in ((before, "before"), (after, "after")) if side.in_play]
    if not told:
        return []
    counts = ", ".join(f"{side.on_the_move} of {side.in_play} {when}" for side, when in told)
    return [f"Met on the move: {counts}."]


def _describe_sure_change(over: ShareChange, players: int) -> str:
    """By how much the share rose or fell."""
    least, most = sorted(abs(100 * end) for end in over.interval)
    word = "rose" if over.verdict == "up" else "fell"
    average = " on the average player" if players > 1 else ""
    by = (
        f"by about {most:.0f} points"
        if round(least) == round(most)
        else f"by {max(least, 0.5):.0f} to {most:.0f} points"
    )
    return f"the share of over-side-on {word}{average} {by} (95 % interval)."


def _describe_too_few(over: ShareChange, players: int) -> str:
    """What is left open, and what would tell."""
    low, high = (_format_points(end) for end in over.interval)
    left_open = (
        "too few ready positions to tell. The share may have changed by anything from "
        f"{low} to {high} points."
    )
    seen = abs(over.difference or 0.0)
    size = "the size seen" if seen >= WORTH_TELLING else f"{100 * WORTH_TELLING:.0f} points"
    if over.more_needed is not None:
        return (
            f"{left_open} About {over.more_needed} more in each set would tell a change of {size}."
        )
    if players > 1:
        return f"{left_open} More players or more clips of each would tell."
    return (
        f"{left_open} More than {MOST_MORE} more in each set would be needed to tell "
        f"a change of {size}."
    )


def _describe_angles(measures: Mapping[str, MeasureChange]) -> list[str]:
    """A sentence for each mean angle that surely changed."""
    sentences = []
    for name, change in measures.items():
        if change.difference is not None and not change.interval[0] <= 0 <= change.interval[1]:
            least, most = sorted(abs(end) for end in change.interval)
            direction = "forward" if change.difference > 0 else "back"
            sentences.append(
                f"The racket {_BODY_PARTS[name]} came {max(least, 0.5):.0f} to "
                f"{most:.0f} degrees further {direction} on average."
            )
    return sentences


def _format_points(share: float) -> str:
    """A share's change in points of 100, signed, with a true minus sign."""
    return f"{100 * share + 0.0:+.0f}".replace("-", "−").replace("+0", "0").replace("−0", "0")
