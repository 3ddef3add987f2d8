"""The academy's page, with all players."""

from typing import Any

from stance.academy.flags import FALSE_DISCOVERIES, FLAG_NAMES, HABIT_SHARE, describe_limits
from stance.academy.model import AgeGroup, ScreenedPlayer, Screening
from stance.academy.pairs import Pair, list_pairs
from stance.academy.player_page import page_name
from stance.academy.statement import (
    MEANINGS,
    describe_screening,
    name_leg_in_front,
)
from stance.comparison.presentation import (
    format_count,
    format_days,
    format_on_the_move,
    format_percent,
)
from stance.comparison.words import TREND_WORDS
from stance.reports.charts import interval_strip
from stance.reports.pages import page
from stance.runtime.language import gettext as _
from stance.runtime.language import ngettext
from stance.types import FLAGS

PLAYERS_FOLDER = "players"


def screening_html(screening: Screening) -> str:
    """The text of the academy's page."""
    clips = sum(len(p.clips) for p in screening.players)
    positions = sum(p.assessed for p in screening.players)
    habits = sum(p.flag == "habit" for p in screening.players)
    pairs = list_pairs(screening.players)
    return page(
        "screening.html",
        title=_("Screening for over-side-on"),
        about=", ".join(
            (
                ngettext("{number} player", "{number} players", len(screening.players)).format(
                    number=len(screening.players)
                ),
                ngettext("{number} clip", "{number} clips", clips).format(number=clips),
                ngettext(
                    "{number} assessed ready position",
                    "{number} assessed ready positions",
                    positions,
                ).format(number=positions),
                *format_days(clip.date for p in screening.players for clip in p.clips),
            )
        ),
        statement=describe_screening(screening),
        warnings=screening.warnings,
        failed=screening.unused,
        players=[_describe_row(p) for p in screening.players],
        any_strokes=any(p.pool.strokes.in_play for p in screening.players),
        pairs=[_describe_pair(pair) for pair in pairs],
        any_pair_strokes=any(p.strokes.in_play for pair in pairs for p in pair.players),
        groups=[_describe_group(g, habits / len(screening.players)) for g in screening.groups],
        meanings=[_(MEANINGS[flag]).format(**describe_limits()) for flag in FLAGS],
        habit=describe_limits()["habit"],
    )


def _describe_row(player: ScreenedPlayer) -> dict[str, Any]:
    """What the template of the academy's page shows of a player."""
    over = player.shares["over_side_on"]
    words = f"{format_count(over)} {format_percent(over)}"
    return {
        "name": player.player,
        "page": f"{PLAYERS_FOLDER}/{page_name(player)}",
        "flag": player.flag,
        "flag_name": _(FLAG_NAMES[player.flag]),
        "count": format_count(over),
        "percent": format_percent(over),
        "strip": interval_strip("over_side_on", (over.share, over.interval), HABIT_SHARE, words)
        if over.share is not None
        else "",
        "leading": _(name_leg_in_front(player)),
        "foot": format_count(player.racket_foot_leading) if player.assessed else "",
        "met": format_on_the_move(player.pool.strokes) if player.pool.strokes.in_play else "",
        "trend": "" if player.trend is None else _(TREND_WORDS[player.trend.verdict]),
        "age_group": player.age_group,
    }


def _describe_pair(pair: Pair) -> dict[str, Any]:
    """What the template shows of a pair."""
    return {
        "clips": pair.clips,
        "players": [
            {
                "name": paired.player.player,
                "page": f"{PLAYERS_FOLDER}/{page_name(paired.player)}",
                "flag": paired.player.flag,
                "flag_name": _(FLAG_NAMES[paired.player.flag]),
                "over": _("{count} of {assessed}").format(
                    count=paired.over_side_on, assessed=paired.assessed
                ),
                "met": format_on_the_move(paired.strokes),
            }
            for paired in pair.players
        ],
    }


def _describe_group(group: AgeGroup, academy_share: float) -> dict[str, Any]:
    """What the template shows of an age group; `academy_share` is the academy's of habits."""
    words = _("no other group to compare with")
    if group.p_value is not None:
        words = _("no sure difference")
        if group.p_value <= FALSE_DISCOVERIES:
            words = (
                _("habits more frequent than in the others")
                if group.habits / group.players > academy_share
                else _("habits less frequent than in the others")
            )
    return {
        "name": group.name,
        "players": group.players,
        "habits": group.habits,
        "share": _("not known")
        if group.share is None
        else _("{share}\u00a0%").format(share=round(100 * group.share)),
        "words": words,
    }
