"""What `stance screen` writes: screening.json, screening.csv and the pages."""

import csv
import datetime
import hashlib
import io
import re
from pathlib import Path
from typing import Any

import numpy as np
from markupsafe import Markup

from stance.academy.screen import (
    FALSE_DISCOVERIES,
    FLAG_NAMES,
    HABIT_SHARE,
    RULED_OUT_SHARE,
    AgeGroup,
    Clip,
    Screened,
    Screening,
)
from stance.comparison.page import MEASURE_TITLES, filming_words, mean_words, share_words, signed
from stance.measures.classes import DEFAULT_LIMITS
from stance.reports.charts import angle_chart, interval_strip, share_chart, trend_chart
from stance.reports.clip import REPORT_FILE
from stance.reports.pages import counted, page
from stance.results.files import write_files
from stance.results.json_format import json_file_text
from stance.statistics.pooled import MEASURES
from stance.types import CLASS_NAMES, CLASSES, FLAGS, StanceClass

SCHEMA = "stance-screening/1"

SCREENING_FILE = "screening.json"

TABLE_FILE = "screening.csv"

PLAYERS_FOLDER = "players"

KEPT_FOLDER = "kept"

_TRENDS = {
    "up": "more often later",
    "down": "less often later",
    "steady": "no change of note",
    "too_few": "too few to tell",
}

_LEADING = {"racket": "racket leg", "other": "non-racket leg", "both": "either leg"}

# Which leg is in front is told in words from so many over-side-on positions on.
_TOLD_FROM = 3


def write_screening(screening: Screening, folder: str | Path) -> None:
    """Write the pages, the table and, last, screening.json; each file whole or not at all.

    Pages of players who are no longer on the roster are taken away.

    Raises
    ------
    OutputError
        The folder can't be made or written to.
    """
    pages = {_page_name(p): player_html(p) for p in screening.players}
    players = Path(folder) / PLAYERS_FOLDER
    write_files(players, pages)
    for old in set(p.name for p in players.glob("*.html")) - set(pages):
        (players / old).unlink()
    write_files(
        folder,
        {
            REPORT_FILE: screening_html(screening),
            # Spreadsheets take a file for UTF-8 only where it starts with a byte order mark.
            TABLE_FILE: "\ufeff" + screening_csv(screening),
            SCREENING_FILE: json_file_text(to_json(screening)),
        },
    )


def to_json(screening: Screening) -> dict[str, Any]:
    """The screening as schema "stance-screening/1" lays it out."""
    return {
        "schema": SCHEMA,
        "statement": statement(screening),
        "settings": {
            "habit_share": HABIT_SHARE,
            "ruled_out_share": RULED_OUT_SHARE,
            "false_discoveries": FALSE_DISCOVERIES,
        },
        "players": [_player_to_json(p) for p in screening.players],
        "age_groups": [vars(g) for g in screening.groups],
        "failed": [vars(f) for f in screening.failed],
        "warnings": [vars(w) for w in screening.warnings],
    }


def screening_csv(screening: Screening) -> str:
    """A table for a spreadsheet: a heading row, then a row per player."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(
        [
            "player",
            "flag",
            "ready positions assessed",
            "not assessed",
            "over-side-on",
            "share of over-side-on",
            "interval from",
            "interval to",
            "leg in front",
            "mean lead angle in degrees",
            "mean hip yaw in degrees",
            "p-value",
            "q-value",
            "over the dates",
            "age group",
            "clips",
        ]
    )
    for p in screening.players:
        over = p.shares["over_side_on"]
        writer.writerow(
            [
                p.player,
                FLAG_NAMES[p.flag],
                p.assessed,
                p.not_assessed,
                over.count,
                _cell(over.share, 3),
                _cell(over.interval[0], 3),
                _cell(over.interval[1], 3),
                _leg_in_front(p),
                *(_cell(p.means[m].value, 1) for m in MEASURES),
                _cell(p.p_value, 5),
                _cell(p.q_value, 5),
                "" if p.trend is None else _TRENDS[p.trend.verdict],
                p.age_group,
                "; ".join(c.file for c in p.clips),
            ]
        )
    return text.getvalue()


def statement(screening: Screening) -> str:
    """The sentences for the head coach."""
    count = {flag: sum(p.flag == flag for p in screening.players) for flag in FLAGS}
    total = len(screening.players)
    if total == count["too_few"]:
        who = "the player" if total == 1 else f"any of the {total} players"
        return f"Too few ready positions to say anything about {who}."
    verb = "waits" if count["habit"] == 1 else "wait"
    first = f"{count['habit'] or 'None'} of {total} players {verb} over-side-on as a habit"
    if count["habit"] == 0:
        first = f"None of the {total} players is surely over-side-on as a habit"
    rest = [
        f"{count['watch']} to watch" if count["watch"] else "",
        f"no sign of it in {count['no_sign']}" if count["no_sign"] else "",
        f"too few ready positions to say in {count['too_few']}" if count["too_few"] else "",
    ]
    rest = [r for r in rest if r]
    return f"{first}; {', '.join(rest)}." if rest else f"{first}."


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
        statement=statement(screening),
        warnings=screening.warnings,
        failed=screening.failed,
        players=[_row(p) for p in screening.players],
        groups=[_group(g, habits / len(screening.players)) for g in screening.groups],
        habit=f"{100 * HABIT_SHARE:.0f} %",
        ruled_out=f"{100 * RULED_OUT_SHARE:.0f} %",
        discoveries=f"{100 * FALSE_DISCOVERIES:.0f} %",
    )


def player_html(player: Screened) -> str:
    """The text of a player's page."""
    about = [counted(len(player.clips), "clip"), player.age_group]
    days = [
        (datetime.date.fromisoformat(d.date).toordinal(), d.date, (d.share.share, d.share.interval))
        for d in player.days
    ]
    trend = player.trend
    return page(
        "player.html",
        title=f"Screening: {player.player}",
        name=player.player,
        about=", ".join(a for a in about if a),
        statement=player_statement(player),
        flag=player.flag,
        flag_name=FLAG_NAMES[player.flag],
        shares=[_share(player, name) for name in CLASSES] if player.assessed else [],
        measures=[_measure(player, name) for name in MEASURES],
        not_assessed=player.not_assessed,
        trend_chart=None
        if trend is None
        else Markup(
            trend_chart(
                "over_side_on",
                days,
                HABIT_SHARE,
                "Share of over-side-on by date: "
                + "; ".join(f"{d.date} {share_words(d.share)}" for d in player.days),
            )
        ),
        trend=""
        if trend is None
        else f"From the earlier to the later dates: {_TRENDS[trend.verdict]} "
        f"({signed(100 * trend.interval[0])} to {signed(100 * trend.interval[1])} points).",
        clips=[_clip(c) for c in player.clips],
    )


def player_statement(player: Screened) -> str:
    """The plain sentences on one player."""
    over = player.shares["over_side_on"]
    if over.share is None:
        return "No ready position could be assessed."
    low, high = (100 * end for end in over.interval)
    verb = "was" if over.count == 1 else "were"
    leg = _leg_in_front(player)
    leads = f" The {leg} is in front in them." if leg else ""
    if player.leading == "both" and leg:
        leads = " Now one leg, now the other is in front in them."
    return (
        f"{over.count} of {over.assessed} assessed ready positions {verb} over-side-on; the "
        f"usual share lies between {low:.0f} and {high:.0f} %.{leads}"
    )


def _player_to_json(player: Screened) -> dict[str, Any]:
    trend = player.trend
    return {
        "player": player.player,
        "age_group": player.age_group,
        "flag": player.flag,
        "assessed": player.assessed,
        "not_assessed": player.not_assessed,
        **{
            name: {
                "count": s.count,
                "share": s.share,
                "interval": list(s.interval),
                "effective": s.effective,
            }
            for name, s in player.shares.items()
        },
        "measures": {
            name: {"mean": m.value, "interval": list(m.interval)}
            for name, m in player.means.items()
        },
        "leading": player.leading,
        "p_value": player.p_value,
        "q_value": player.q_value,
        "dates": [
            {
                "date": d.date,
                "count": d.share.count,
                "assessed": d.share.assessed,
                "share": d.share.share,
                "interval": list(d.share.interval),
            }
            for d in player.days
        ],
        "trend": None
        if trend is None
        else {
            "verdict": trend.verdict,
            "difference": trend.difference,
            "interval": list(trend.interval),
        },
        "clips": [c.file for c in player.clips],
        "results": [f"{KEPT_FOLDER}/{c.key}" for c in player.clips],
    }


def _leg_in_front(player: Screened) -> str:
    """Which leg is in front where the player is over-side-on; empty where too few tell."""
    enough = player.shares["over_side_on"].count >= _TOLD_FROM
    return _LEADING[player.leading] if player.leading and enough else ""


def _row(player: Screened) -> dict[str, Any]:
    over = player.shares["over_side_on"]
    words = share_words(over)
    return {
        "name": player.player,
        "page": f"{PLAYERS_FOLDER}/{_page_name(player)}",
        "flag": player.flag,
        "flag_name": FLAG_NAMES[player.flag],
        "share": words,
        "strip": Markup(
            interval_strip("over_side_on", (over.share, over.interval), HABIT_SHARE, words)
        ),
        "leading": _leg_in_front(player),
        "trend": "" if player.trend is None else _TRENDS[player.trend.verdict],
        "age_group": player.age_group,
    }


def _group(group: AgeGroup, others: float) -> dict[str, Any]:
    """What the template shows of an age group; `others` is the academy's share of habits."""
    words = "no other group to compare with"
    if group.p_value is not None:
        more = group.habits / group.players > others
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


def _share(player: Screened, name: StanceClass) -> dict[str, Any]:
    share = player.shares[name]
    of_clips = []
    for clip in player.clips:
        own = clip.player.shares[name].share
        if own is not None:
            of_clips.append(own)
    words = share_words(share)
    return {
        "name": CLASS_NAMES[name],
        "words": words,
        "chart": Markup(
            share_chart(
                name,
                [("", (share.share, share.interval), of_clips)],
                f"{CLASS_NAMES[name]}: {words}",
            )
        ),
    }


def _measure(player: Screened, name: str) -> dict[str, Any]:
    mean = player.means[name]
    values = [float(getattr(p, name)) for c in player.clips for p in c.player.ready_positions]
    limit, words = DEFAULT_LIMITS.side_on_deg, mean_words(mean)
    return {
        "name": MEASURE_TITLES[name],
        "words": words,
        "chart": Markup(
            angle_chart(
                [("", (mean.value, mean.interval), [v for v in values if np.isfinite(v)])],
                (-limit, limit),
                f"{MEASURE_TITLES[name]}: {words}",
            )
        ),
    }


def _clip(clip: Clip) -> dict[str, Any]:
    over = clip.player.shares["over_side_on"]
    filming = clip.result.filming
    return {
        "file": clip.file,
        "page": f"../{KEPT_FOLDER}/{clip.key}/{REPORT_FILE}",
        "date": clip.date,
        "session": clip.session,
        "over": f"{over.count} of {clip.player.assessed}",
        "filming": "" if filming is None else filming_words(filming),
        "court": clip.result.court.source,
    }


def _page_name(player: Screened) -> str:
    """A file name for a player: readable, and unlike any other player's."""
    readable = re.sub(r"[^A-Za-z0-9]+", "-", player.player).strip("-").lower()[:40]
    mark = hashlib.sha256(player.player.encode()).hexdigest()[:6]
    return f"{readable or 'player'}-{mark}.html"


def _cell(value: float | None, decimals: int) -> str:
    return "" if value is None or not np.isfinite(value) else f"{value:.{decimals}f}"
