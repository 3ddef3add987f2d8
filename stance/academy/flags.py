"""The flag of a player: whether over-side-on is a habit, and how sure that is."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy.stats import false_discovery_control

from stance.academy.model import ScreenedPlayer
from stance.assessment.tendencies import OFTEN
from stance.statistics.pooled import PooledShare
from stance.statistics.shares import share_interval
from stance.types import N_, Flag

# Over-side-on in more than this share of the ready positions is called a habit. No published
# limit exists; why a quarter: docs/comparing.md.
HABIT_SHARE = OFTEN

# "No sign" is said only where the interval stays below this: then a player surely does not stand
# over-side-on most of the time.
RULED_OUT_SHARE = 0.5

# Between these chances that the usual share is under `HABIT_SHARE`, neither "watch" nor "no sign"
# is said: it is about as likely above as below. So no two players who hardly differ are told the
# contrary; each border lies between neighbouring words.
LIKELY_ABOVE, LIKELY_BELOW = 1 / 3, 2 / 3

# Part of the players called a habit that may be called so wrongly, on average.
FALSE_DISCOVERIES = 0.05

FLAG_NAMES: dict[Flag, str] = {
    "habit": N_("habit"),
    "watch": N_("watch"),
    "no_sign": N_("no sign"),
    "too_few": N_("too few to say"),
}

# In the order in which a coach deals with them: what asks for nothing comes last.
FLAGS_BY_URGENCY: tuple[Flag, ...] = ("habit", "watch", "too_few", "no_sign")


def choose_flag(share: PooledShare, p_value: float | None, q_value: float | None) -> Flag:
    """The flag that follows from the interval of the share of over-side-on.

    Habit: surely above `HABIT_SHARE`, with the false discovery rate held. Watch: at least twice as
    likely above it as below, but not surely. No sign: at least twice as likely below it as above,
    and surely below `RULED_OUT_SHARE`. Too few: neither, or so few positions that even a player
    with none over-side-on could not be told from one who mostly is.

    Parameters
    ----------
    share
        with its interval
    p_value, q_value
        as in `ScreenedPlayer`
    """
    if share.share is None or p_value is None or q_value is None:
        return "too_few"
    nothing_seen = np.zeros(1)
    if share_interval(0.0, nothing_seen, share.effective)[1] >= RULED_OUT_SHARE:
        return "too_few"
    if q_value <= FALSE_DISCOVERIES:
        return "habit"
    if p_value <= LIKELY_ABOVE:
        return "watch"
    is_below = p_value >= LIKELY_BELOW and share.interval[1] < RULED_OUT_SHARE
    return "no_sign" if is_below else "too_few"


def rank_by_urgency(player: ScreenedPlayer) -> tuple[int, float, str]:
    """The order of players: by flag, in each the surest first, then by name."""
    p_value = 2.0 if player.p_value is None else player.p_value
    surest = -p_value if player.flag == "no_sign" else p_value
    return FLAGS_BY_URGENCY.index(player.flag), surest, player.player


def flag_players(players: Sequence[ScreenedPlayer]) -> list[ScreenedPlayer]:
    """Players with q-values and flags.

    Parameters
    ----------
    players
        of one academy, with p-values

    Notes
    -----
    Y. Benjamini and Y. Hochberg, Journal of the Royal Statistical Society B 57 (1995) 289-300.
    """
    p_values = [p.p_value for p in players if p.p_value is not None]
    q_values = iter(false_discovery_control(p_values, method="bh") if p_values else ())
    flagged = []
    for player in players:
        q_value = None if player.p_value is None else float(next(q_values))
        flag = choose_flag(player.shares["over_side_on"], player.p_value, q_value)
        flagged.append(replace(player, q_value=q_value, flag=flag))
    return flagged


def describe_limits() -> dict[str, int]:
    """The limits that the meanings of the flags name, in percent."""
    return {
        "habit": round(100 * HABIT_SHARE),
        "ruled_out": round(100 * RULED_OUT_SHARE),
        "discoveries": round(100 * FALSE_DISCOVERIES),
    }
