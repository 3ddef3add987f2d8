"""A change in a coach's words."""

from collections.abc import Mapping, Sequence

from stance.assessment.angle_words import turned_words
from stance.comparison.changes import WORTH_TELLING
from stance.comparison.model import Change, MeasureChange, ShareChange
from stance.comparison.words import change_words, points_words, turn_words
from stance.runtime.language import gettext as _
from stance.runtime.language import join_words
from stance.types import N_, Verdict

_CALLS: dict[Verdict, str] = {
    "down": N_(
        "Better: over-side-on in {before} of {of_before} ready positions before, {after} of "
        "{of_after} after. The usual share fell by {points} (likely range)."
    ),
    "up": N_(
        "Worse: over-side-on in {before} of {of_before} ready positions before, {after} of "
        "{of_after} after. The usual share rose by {points} (likely range)."
    ),
    "steady": N_(
        "No change: over-side-on in {before} of {of_before} ready positions before, {after} of "
        "{of_after} after. The usual share changed by less than {worth} percentage points (likely "
        "range: {change})."
    ),
    "too_few": N_(
        "Too few ready positions to tell: over-side-on in {before} of {of_before} before, {after} "
        "of {of_after} after. The usual share may have changed by anything from {change}."
    ),
}

_GROUP_CALLS: dict[Verdict, str] = {
    "down": N_(
        "Better over {players} players: the average player's usual share of over-side-on fell by "
        "{points} (likely range)."
    ),
    "up": N_(
        "Worse over {players} players: the average player's usual share of over-side-on rose by "
        "{points} (likely range)."
    ),
    "steady": N_(
        "No change over {players} players: the average player's usual share of over-side-on "
        "changed by less than {worth} percentage points (likely range: {change})."
    ),
    "too_few": N_(
        "Too few ready positions to tell over {players} players: the average player's usual share "
        "of over-side-on may have changed by anything from {change}."
    ),
}
"""A group's counts depend on who was filmed how often and can seem to say the contrary."""

_MET_SET: dict[Verdict, str] = {
    "up": N_(
        "Better: more strokes met set, {before} of {of_before} before, {after} of {of_after} after."
    ),
    "down": N_(
        "Worse: fewer strokes met set, {before} of {of_before} before, {after} of {of_after} after."
    ),
    "steady": N_(
        "As many strokes met set: {before} of {of_before} before, {after} of {of_after} after."
    ),
    "too_few": N_(
        "Strokes met set: {before} of {of_before} before, {after} of {of_after} after, "
        "too few to tell a change."
    ),
}


def describe_change(
    over: ShareChange,
    measures: Mapping[str, MeasureChange],
    filmed_differently: bool,
    one_clip: bool = False,
    players: int = 1,
) -> list[str]:
    """The call that is made, and further sentences; they never claim more than the intervals.

    Fewer over-side-on is better, since square or slightly racket-leg-back is what is aimed at.

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
        return [_describe_nothing(before.share is None, after.share is None)]
    calls = _CALLS if players == 1 else _GROUP_CALLS
    sentences = [
        _(calls[over.verdict]).format(
            players=players,
            before=before.count,
            of_before=before.assessed,
            after=after.count,
            of_after=after.assessed,
            points=points_words(*over.interval),
            change=change_words(*over.interval),
            worth=round(100 * WORTH_TELLING),
        )
    ]
    if over.verdict in ("up", "down"):
        if filmed_differently:
            sentences.append(_("The two sets were filmed differently, which may be part of it."))
        if one_clip:
            sentences.append(
                _(
                    "With a single clip in a set this may be that day only: too few clips to tell "
                    "how much days differ."
                )
            )
    return [*sentences, *_describe_angles(measures, players)]


def describe_met_set(met_set: ShareChange) -> list[str]:
    """How many of the strokes faced were met set; nothing where none could be told."""
    before, after = met_set.before, met_set.after
    if not before.assessed and not after.assessed:
        return []
    text = _(_MET_SET[met_set.verdict])
    if not before.assessed:
        text = _("Strokes met set: {after} of {of_after} after; before, no stroke could be told.")
    elif not after.assessed:
        text = _("Strokes met set: {before} of {of_before} before; after, no stroke could be told.")
    return [
        text.format(
            before=before.count,
            of_before=before.assessed,
            after=after.count,
            of_after=after.assessed,
        )
    ]


def name_changed(changes: Sequence[Change]) -> list[str]:
    """Which players of a group surely became better or worse; nothing where none did."""
    better, worse = (
        join_words([c.player for c in changes if c.classes["over_side_on"].verdict == verdict])
        for verdict in ("down", "up")
    )
    if better and worse:
        text = _("Surely better: {better}; surely worse: {worse}.")
        return [text.format(better=better, worse=worse)]
    if better:
        return [_("Surely better: {players}.").format(players=better)]
    return [_("Surely worse: {players}.").format(players=worse)] if worse else []


def _describe_nothing(before: bool, after: bool) -> str:
    """The sentence where in a set, or in both, nothing could be assessed."""
    if before and after:
        return _("Too few ready positions to tell: none could be assessed before and after.")
    if before:
        return _("Too few ready positions to tell: none could be assessed before.")
    return _("Too few ready positions to tell: none could be assessed after.")


def _describe_angles(measures: Mapping[str, MeasureChange], players: int) -> list[str]:
    """A sentence on the mean angles that surely changed; none where none did.

    Of a group the means depend on who was filmed how often, so the change is given.
    """
    parts = []
    for name, change in measures.items():
        before, after = change.before.value, change.after.value
        low, high = change.interval
        if change.difference is None or before is None or after is None or low <= 0 <= high:
            continue
        is_feet = name == "lead_angle_deg"
        if players > 1:
            text = _("the feet came {turn}") if is_feet else _("the hips came {turn}")
        else:
            text = (
                _("the feet went from {before} to {after}")
                if is_feet
                else _("the hips went from {before} to {after}")
            )
        parts.append(
            text.format(
                turn=turn_words(low, high), before=turned_words(before), after=turned_words(after)
            )
        )
    return [_("On average {parts}.").format(parts=join_words(parts))] if parts else []
