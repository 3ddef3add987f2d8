"""A player's pages: the coach's, and one that can be sent to the player's family alone."""

import hashlib
import re
from dataclasses import replace
from typing import Any

from stance.academy.advice import advise_player
from stance.academy.flags import FLAG_NAMES, describe_limits
from stance.academy.model import ScreenedClip, ScreenedPlayer
from stance.academy.statement import MEANINGS, describe_player
from stance.assessment.angle_words import turned_words
from stance.comparison.clip_reports import NO_REPORTS, ClipReports
from stance.comparison.examples import Example, choose_clearest, choose_right, choose_typical
from stance.comparison.presentation import (
    COUNTED_TITLES,
    MEASURE_TITLES,
    draw_dates,
    draw_means,
    draw_shares,
    format_court,
    format_days,
    format_filming,
    format_mean,
    format_mean_range,
    format_on_the_move,
    format_share,
    format_sides,
    format_trend,
)
from stance.reports.pages import page
from stance.runtime.language import gettext as _
from stance.runtime.language import ngettext
from stance.types import CLASS_NAMES, CLASSES, LEADING, Counted

# So many pictures are shown of what a player is flagged for; beside them is one that is right.
_MOST_PICTURES = 3

_SHOWN: tuple[Counted, ...] = (
    "over_side_on",
    *(c for c in CLASSES if c != "over_side_on"),
    LEADING,
)


def player_html(player: ScreenedPlayer, reports: ClipReports = NO_REPORTS) -> str:
    """The text of the coach's page of a player.

    Parameters
    ----------
    player
        with clips
    reports
        of the clips, for links and pictures
    """
    return page(
        "player.html",
        **_describe(player, reports),
        shares=[_describe_share(player, what) for what in _SHOWN] if player.assessed else [],
        met=format_on_the_move(player.pool.strokes) if player.pool.strokes.in_play else "",
        measures=[_describe_measure(player, name) for name in MEASURE_TITLES],
        not_assessed=player.not_assessed,
        clips=[_describe_clip(c, reports) for c in sorted(player.clips, key=_by_date)],
    )


def family_html(player: ScreenedPlayer, reports: ClipReports = NO_REPORTS) -> str:
    """The text of the page for a player's family; parameters as for `player_html`.

    It names nobody else, neither players nor files nor sessions, leads nowhere, and holds its
    pictures itself; only such in which no face can be known, for others may be in them.
    """
    blurred = tuple(clip for clip in player.clips if clip.faces_blurred)
    content = _describe(player, reports)
    content["pictures"] = _list_pictures(replace(player, clips=blurred), reports)
    content["about"] = ", ".join(_count_clips(player))
    return page("family.html", **content)


def page_name(player: ScreenedPlayer) -> str:
    """A file name for a player's page: readable, and unlike any other player's."""
    readable = re.sub(r"[^A-Za-z0-9]+", "-", player.player).strip("-").lower()[:40]
    mark = hashlib.sha256(player.player.encode()).hexdigest()[:6]
    return f"{readable or 'player'}-{mark}.html"


def _describe(player: ScreenedPlayer, reports: ClipReports) -> dict[str, Any]:
    """What both pages show."""
    sessions = dict.fromkeys(clip.session for clip in player.clips if clip.session)
    return {
        "title": _("Screening: {player}").format(player=player.player),
        "name": player.player,
        "about": ", ".join([*_count_clips(player), *sessions]),
        "age_group": player.age_group,
        "statement": describe_player(player),
        "flag": player.flag,
        "flag_name": _(FLAG_NAMES[player.flag]),
        "meaning": _(MEANINGS[player.flag]).format(**describe_limits()),
        "advice": advise_player(player),
        "pictures": _list_pictures(player, reports),
        "trend_chart": None if player.trend is None else draw_dates(player.dates),
        "trend": "" if player.trend is None else format_trend(player.trend),
    }


def _count_clips(player: ScreenedPlayer) -> list[str]:
    """How many clips, and of which days."""
    number = len(player.clips)
    clips = ngettext("{number} clip", "{number} clips", number).format(number=number)
    return [clips, *format_days(clip.date for clip in player.clips)]


def _list_pictures(player: ScreenedPlayer, reports: ClipReports) -> list[dict[str, Any]]:
    """Groups of pictures: what is flagged and how it is right, or the typical stances."""
    clips = [(clip.result, clip.player) for clip in player.clips]
    over = choose_clearest(clips, "over_side_on", reports, _MOST_PICTURES)
    if player.flag == "no_sign" or not over:
        groups = [(_("Typical stances"), choose_typical(clips, reports))]
    else:
        groups = [
            (_("The clearest over-side-on ones"), over),
            (_("A right one by the same player"), choose_right(clips, reports)),
        ]
    return [
        {"title": title, "figures": [_describe_figure(e, reports) for e in examples]}
        for title, examples in groups
        if examples
    ]


def _describe_figure(example: Example, reports: ClipReports) -> dict[str, Any]:
    """What the template shows of a picture."""
    position = example.position
    return {
        "picture": example.picture,
        "class": position.stance_class,
        "class_name": _(CLASS_NAMES[position.stance_class]),
        "angles": _("feet {feet}, hips {hips}").format(
            feet=turned_words(position.lead_angle_deg), hips=turned_words(position.hip_yaw_deg)
        ),
        "day": example.result.date,
        "link": reports.link(example.result, example.player, example.number),
    }


def _describe_share(player: ScreenedPlayer, what: Counted) -> dict[str, Any]:
    """What the template shows of the share of a class, or of the remark."""
    share = player.racket_foot_leading if what == "racket_foot_leading" else player.shares[what]
    return {
        "name": _(COUNTED_TITLES[what]),
        "words": format_share(share),
        "sides": format_sides(player.pool) if what == "over_side_on" else "",
        "chart": draw_shares(what, [("", share, player.pool)]),
    }


def _describe_measure(player: ScreenedPlayer, name: str) -> dict[str, Any]:
    """What the template shows of a measure's mean."""
    mean = player.means[name]
    return {
        "name": _("{part}, on average").format(part=_(MEASURE_TITLES[name])),
        "words": ", ".join(filter(None, (format_mean(mean), format_mean_range(mean)))),
        "chart": draw_means(name, [("", mean, player.pool)]),
    }


def _by_date(clip: ScreenedClip) -> tuple[bool, str]:
    """The order of clips in a table: by date, those without one last."""
    return not clip.date, clip.date


def _describe_clip(clip: ScreenedClip, reports: ClipReports) -> dict[str, Any]:
    """What the template shows of a clip."""
    over = clip.player.shares["over_side_on"]
    filming = clip.result.filming
    return {
        "file": clip.file,
        "page": reports.link(clip.result),
        "date": clip.date,
        "session": clip.session,
        "over": _("{count} of {assessed}").format(count=over.count, assessed=clip.player.assessed),
        "filming": "" if filming is None else format_filming(filming),
        "court": format_court(clip.result.court.source),
    }
