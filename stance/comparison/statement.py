"""A change in a coach's words."""

from collections.abc import Mapping

from stance.comparison.changes import MOST_MORE, WORTH_TELLING
from stance.comparison.model import MeasureChange, ShareChange

_PARTS = {"lead_angle_deg": "foot", "hip_yaw_deg": "hip"}


def change_statement(
    over: ShareChange,
    measures: Mapping[str, MeasureChange],
    filmed_differently: bool,
    one_clip: bool = False,
    players: int = 1,
) -> str:
    """The plain sentences; they never claim more than the intervals."""
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
    low, high = (100 * end for end in over.interval)
    average = " on the average player" if players > 1 else ""
    if over.verdict in ("up", "down"):
        least, most = sorted((abs(low), abs(high)))
        word = "rose" if over.verdict == "up" else "fell"
        by = (
            f"by about {most:.0f} points"
            if round(least) == round(most)
            else f"by {max(least, 0.5):.0f} to {most:.0f} points"
        )
        sentences = [f"{counts}: the share of over-side-on {word}{average} {by} (95 % interval)."]
        if filmed_differently:
            sentences.append("The two sets were filmed differently, which may be part of it.")
        if one_clip:
            sentences.append(
                "With a single clip in a set this may be that day only: too few "
                "clips to tell how much days differ."
            )
    elif over.verdict == "steady":
        sentences = [
            f"{counts}: no change was seen, and one of "
            f"{100 * WORTH_TELLING:.0f} points or more is ruled out "
            f"({_points(low)} to {_points(high)} points)."
        ]
    else:
        sentences = [
            f"{counts}: too few ready positions to tell. The share may have changed by "
            f"anything from {_points(low)} to {_points(high)} points."
        ]
        seen = abs(over.difference or 0.0)
        of_size = (
            "of the size seen" if seen >= WORTH_TELLING else f"of {100 * WORTH_TELLING:.0f} points"
        )
        if over.more_needed is not None:
            sentences.append(
                f"About {over.more_needed} more in each set would tell a change {of_size}."
            )
        elif players > 1:
            sentences.append("More players or more clips of each would tell.")
        else:
            sentences.append(
                f"More than {MOST_MORE} more in each set would be needed to tell "
                f"a change {of_size}."
            )
    for name, change in measures.items():
        if change.difference is not None and not change.interval[0] <= 0 <= change.interval[1]:
            least, most = sorted(abs(end) for end in change.interval)
            way = "forward" if change.difference > 0 else "back"
            sentences.append(
                f"The racket {_PARTS[name]} came {max(least, 0.5):.0f} to "
                f"{most:.0f} degrees further {way} on average."
            )
    return " ".join(sentences)


def _points(value: float) -> str:
    """A signed whole number with a true minus sign."""
    return f"{value + 0.0:+.0f}".replace("-", "−").replace("+0", "0").replace("−0", "0")
