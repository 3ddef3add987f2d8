"""The pages of a screening: the academy's, and one for each player."""

import datetime
import hashlib
import re
from typing import Any

from markupsafe import Markup

from stance.academy.flags import FALSE_DISCOVERIES, FLAG_NAMES, HABIT_SHARE, RULED_OUT_SHARE
from stance.academy.model import AgeGroup, ScreenedClip, ScreenedPlayer, Screening
from stance.academy.result_store import STORE_FOLDER
from stance.academy.statement import (
    TREND_WORDS,
    describe_player,
    describe_screening,
    name_leg_in_front,
)
from stance.comparison.presentation import (
    MEASURE_TITLES,
    draw_means,
    draw_shares,
    format_filming,
    format_mean,
    format_on_the_move,
    format_share,
    format_sides,
)
from stance.comparison.words import change_words
from stance.reports.charts import interval_strip, trend_chart
from stance.reports.clip import REPORT_FILE
from stance.reports.pages import counted, page
from stance.statistics.pooled import COMPARED_FIELDS, PooledShare
from stance.types import CLASSES, COUNTED_NAMES, LEADING, Counted

PLAYERS_FOLDER = "players"


def screening_html(screening: Screening) -> str:
    """The text of the academy's page."""
    clips = sum(len(p.clips) for p in screening.players)
    positions = sum(p.assessed for p in screening.players)
    habits = sum(p.flag == "habit" for p in screening.players)
    return page(
        "screening.html",
        title="Screening for over-side-on",
        about=f"{counted(len(screening.players), 'player')}, {counted(clips, 'clip')}, "
        f"{counted(positions, 'assessed ready position')}",
        statement=describe_screening(screening),
        warnings=screening.warnings,
        failed=screening.unused,
        players=[_describe_row(p) for p in screening.players],
        any_strokes=any(p.pool.strokes.in_play for p in screening.players),
        groups=[_describe_group(g, habits / len(screening.players)) for g in screening.groups],
        habit=f"{100 * HABIT_SHARE:.0f} %",
        ruled_out=f"{100 * RULED_OUT_SHARE:.0f} %",
        discoveries=f"{100 * FALSE_DISCOVERIES:.0f} %",
    )


def player_html(player: ScreenedPlayer) -> str:
    """The text of a player's page."""
    about = [counted(len(player.clips), "clip"), player.age_group]
    return page(
        "player.html",
        title=f"Screening: {player.player}",
        name=player.player,
        about=", ".join(a for a in about if a),
        statement=describe_player(player),
        flag=player.flag,
        flag_name=FLAG_NAMES[player.flag],
        shares=[_describe_share(player, what) for what in (*CLASSES, LEADING)]
        if player.assessed
        else [],
        met=format_on_the_move(player.pool.strokes) if player.pool.strokes.in_play else "",
        measures=[_describe_measure(player, name) for name in COMPARED_FIELDS],
        not_assessed=player.not_assessed,
        trend_chart=None if player.trend is None else _draw_trend(player),
        trend=_describe_trend(player),
        clips=[_describe_clip(c) for c in player.clips],
    )


def page_name(player: ScreenedPlayer) -> str:
    """A file name for a player's page: readable, and unlike any other player's."""
    readable = re.sub(r"[^A-Za-z0-9]+", "-", player.player).strip("-").lower()[:40]
    mark = hashlib.sha256(player.player.encode()).hexdigest()[:6]
    return f"{readable or 'player'}-{mark}.html"


def _describe_row(player: ScreenedPlayer) -> dict[str, Any]:
    """What the template of the academy's page shows of a player."""
    over = player.shares["over_side_on"]
    words = format_share(over)
    return {
        "name": player.player,
        "page": f"{PLAYERS_FOLDER}/{page_name(player)}",
        "flag": player.flag,
        "flag_name": FLAG_NAMES[player.flag],
        "share": words,
        "strip": interval_strip("over_side_on", (over.share, over.interval), HABIT_SHARE, words),
        "leading": name_leg_in_front(player),
        "foot": _format_count(player.racket_foot_leading),
        "met": format_on_the_move(player.pool.strokes) if player.pool.strokes.in_play else "",
        "trend": "" if player.trend is None else TREND_WORDS[player.trend.verdict],
        "age_group": player.age_group,
    }


def _describe_group(group: AgeGroup, academy_share: float) -> dict[str, Any]:
    """What the template shows of an age group; `academy_share` is the academy's of habits."""
    words = "no other group to compare with"
    if group.p_value is not None:
        more = group.habits / group.players > academy_share
        words = "no sure difference"
        if group.p_value <= FALSE_DISCOVERIES:
            words = f"habits {'more' if more else 'less'} frequent than in the others"
        words += f" (p = {group.p_value:.2g})"
    return {
        "name": group.name,
        "players": group.players,
        "habits": group.habits,
        "share": "not known" if group.share is None else f"{100 * group.share:.0f} %",
        "words": words,
    }


def _format_count(share: PooledShare) -> str:
    """A count among assessed positions, for a table; empty where nothing was assessed."""
    return f"{share.count} of {share.assessed}" if share.assessed else ""


def _describe_share(player: ScreenedPlayer, what: Counted) -> dict[str, Any]:
    """What the template of a player's page shows of the share of a class, or of the remark."""
    share = player.racket_foot_leading if what == "racket_foot_leading" else player.shares[what]
    return {
        "name": COUNTED_NAMES[what],
        "words": format_share(share),
        "sides": format_sides(player.pool) if what == "over_side_on" else "",
        "chart": draw_shares(what, [("", share, player.pool)]),
    }


def _describe_measure(player: ScreenedPlayer, name: str) -> dict[str, Any]:
    """What the template of a player's page shows of a measure's mean."""
    mean = player.means[name]
    return {
        "name": MEASURE_TITLES[name],
        "words": format_mean(mean),
        "chart": draw_means(name, [("", mean, player.pool)]),
    }


def _draw_trend(player: ScreenedPlayer) -> Markup:
    """A chart of the share of over-side-on over the dates."""
    days = [
        (datetime.date.fromisoformat(d.date).toordinal(), d.date, (d.share.share, d.share.interval))
        for d in player.dates
    ]
    label = "; ".join(f"{d.date} {format_share(d.share)}" for d in player.dates)
    return trend_chart("over_side_on", days, HABIT_SHARE, f"Share of over-side-on by date: {label}")


def _describe_trend(player: ScreenedPlayer) -> str:
    """The change over the dates in words; empty without two dates."""
    if player.trend is None:
        return ""
    words = TREND_WORDS[player.trend.verdict]
    change = change_words(*player.trend.interval)
    return f"From the earlier to the later dates: {words} (likely range: {change})."


def _describe_clip(clip: ScreenedClip) -> dict[str, Any]:
    """What the template shows of a clip."""
    over = clip.player.shares["over_side_on"]
    filming = clip.result.filming
    return {
        "file": clip.file,
        "page": f"../{STORE_FOLDER}/{clip.key}/{REPORT_FILE}",
        "date": clip.date,
        "session": clip.session,
        "over": f"{over.count} of {clip.player.assessed}",
        "filming": "" if filming is None else format_filming(filming),
        "court": clip.result.court.source,
    }
