"""A screening in a coach's words."""

from collections.abc import Sequence

from stance.academy.model import ScreenedPlayer, Screening
from stance.runtime.language import gettext as _
from stance.runtime.language import join_words, ngettext
from stance.types import FLAGS, N_, Flag

_LEGS = {
    "racket": N_("racket leg"),
    "other": N_("non-racket leg"),
    "both": N_("either leg"),
}

# Which leg is in front is said in words from so many over-side-on positions on.
_ENOUGH_TO_NAME_LEG = 3

# So many players are named in a sentence.
_MOST_NAMED = 8

_HEADLINES: dict[Flag, str] = {
    "habit": N_("Over-side-on is a habit: {count} of {assessed} ready positions ({range})."),
    "watch": N_(
        "Over-side-on may be a habit, to watch: {count} of {assessed} ready positions ({range})."
    ),
    "no_sign": N_(
        "No sign of a habit: over-side-on in {count} of {assessed} ready positions ({range})."
    ),
    "too_few": N_(
        "Too few ready positions to say: over-side-on in {count} of {assessed} ({range})."
    ),
}

MEANINGS: dict[Flag, str] = {
    "habit": N_(
        "Habit: over-side-on in surely more than {habit}\u00a0% of the ready positions. Of all "
        "players flagged so, at most about {discoveries}\u00a0% are expected to be flagged "
        "wrongly, however many were screened."
    ),
    "watch": N_(
        "Watch: at least twice as likely above {habit}\u00a0% as below, but not surely. More ready "
        "positions will tell."
    ),
    "no_sign": N_(
        "No sign: at least twice as likely below {habit}\u00a0% as above, and surely below "
        "{ruled_out}\u00a0%."
    ),
    "too_few": N_(
        "Too few to say: about as likely above {habit}\u00a0% as below, too few ready positions, "
        "too doubtful ones, or all from one clip."
    ),
}
"""What each flag means."""


def describe_screening(screening: Screening) -> str:
    """The sentences for the head coach, with the names of those who are flagged."""
    by_flag: dict[Flag, list[str]] = {
        flag: [p.player for p in screening.players if p.flag == flag] for flag in FLAGS
    }
    total = len(screening.players)
    if total == len(by_flag["too_few"]):
        return ngettext(
            "Too few ready positions to say anything about the player.",
            "Too few ready positions to say anything about any of the {total} players.",
            total,
        ).format(total=total)
    sentences = [
        _("Over-side-on as a habit: {names}.").format(names=_name_some(by_flag["habit"]))
        if by_flag["habit"]
        else ngettext(
            "The player is not surely over-side-on as a habit.",
            "None of the {total} players is surely over-side-on as a habit.",
            total,
        ).format(total=total)
    ]
    if by_flag["watch"]:
        sentences.append(_("To watch: {names}.").format(names=_name_some(by_flag["watch"])))
    if by_flag["no_sign"]:
        sentences.append(
            _("No sign of it: {count} of {total}.").format(
                count=len(by_flag["no_sign"]), total=total
            )
        )
    if by_flag["too_few"]:
        sentences.append(
            _("Too few ready positions to say: {count} of {total}.").format(
                count=len(by_flag["too_few"]), total=total
            )
        )
    return " ".join(sentences)


def describe_player(player: ScreenedPlayer) -> str:
    """The plain sentences on one player."""
    over = player.shares["over_side_on"]
    if over.share is None:
        return _("No ready position could be assessed.")
    low, high = (round(100 * end) for end in over.interval)
    headline = _(_HEADLINES[player.flag]).format(
        count=over.count,
        assessed=over.assessed,
        range=_("likely range {low} to {high}\u00a0%").format(low=low, high=high),
    )
    leg = name_leg_in_front(player)
    if not leg:
        return headline
    if player.leading == "both":
        return f"{headline} {_('Now one leg, now the other is in front in them.')}"
    leads = _("The {leg} is in front in them.").format(leg=_(leg))
    return f"{headline} {leads}"


def name_leg_in_front(player: ScreenedPlayer) -> str:
    """Which leg is in front where the player is over-side-on; empty where too few tell."""
    enough = player.shares["over_side_on"].count >= _ENOUGH_TO_NAME_LEG
    return _LEGS[player.leading] if player.leading and enough else ""


def _name_some(names: Sequence[str]) -> str:
    """Names as a list; the first ones and how many more where they are many."""
    if len(names) <= _MOST_NAMED:
        return join_words(names)
    return _("{names} and {number} more").format(
        names=", ".join(names[:_MOST_NAMED]), number=len(names) - _MOST_NAMED
    )
