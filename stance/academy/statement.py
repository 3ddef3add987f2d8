"""A screening in a coach's words."""

from stance.academy.model import ScreenedPlayer, Screening
from stance.types import FLAGS

TREND_WORDS = {
    "up": "more often later",
    "down": "less often later",
    "steady": "no change of note",
    "too_few": "too few to tell",
}

_LEGS = {"racket": "racket leg", "other": "non-racket leg", "both": "either leg"}

# Which leg is in front is said in words from so many over-side-on positions on.
_ENOUGH_TO_NAME_LEG = 3


def describe_screening(screening: Screening) -> str:
    """The sentence for the head coach."""
    count = {flag: sum(p.flag == flag for p in screening.players) for flag in FLAGS}
    total = len(screening.players)
    if total == count["too_few"]:
        who = "the player" if total == 1 else f"any of the {total} players"
        return f"Too few ready positions to say anything about {who}."
    verb = "stands" if count["habit"] == 1 else "stand"
    habits = f"{count['habit']} of {total} players {verb} over-side-on as a habit"
    if count["habit"] == 0:
        habits = f"None of the {total} players is surely over-side-on as a habit"
    others = [
        f"{count['watch']} to watch" if count["watch"] else "",
        f"no sign of it in {count['no_sign']}" if count["no_sign"] else "",
        f"too few ready positions to say in {count['too_few']}" if count["too_few"] else "",
    ]
    others = [words for words in others if words]
    return f"{habits}; {', '.join(others)}." if others else f"{habits}."


def describe_player(player: ScreenedPlayer) -> str:
    """The plain sentences on one player."""
    over = player.shares["over_side_on"]
    if over.share is None:
        return "No ready position could be assessed."
    low, high = (100 * end for end in over.interval)
    verb = "was" if over.count == 1 else "were"
    leg = name_leg_in_front(player)
    leads = f" The {leg} is in front in them." if leg else ""
    if player.leading == "both" and leg:
        leads = " Now one leg, now the other is in front in them."
    return (
        f"{over.count} of {over.assessed} assessed ready positions {verb} over-side-on; the "
        f"usual share lies between {low:.0f} and {high:.0f} %.{leads}"
    )


def name_leg_in_front(player: ScreenedPlayer) -> str:
    """Which leg is in front where the player is over-side-on; empty where too few tell."""
    enough = player.shares["over_side_on"].count >= _ENOUGH_TO_NAME_LEG
    return _LEGS[player.leading] if player.leading and enough else ""
