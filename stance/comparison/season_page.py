"""The page of a season: each player's line over the dates."""

from collections.abc import Mapping, Sequence
from typing import Any

from stance.comparison.clip_reports import NO_REPORTS, ClipReports
from stance.comparison.met_set import estimate_met_clustering, met_set_share
from stance.comparison.model import ShareChange
from stance.comparison.presentation import (
    draw_dates,
    format_count,
    format_filming,
    format_percent,
    format_trend,
)
from stance.comparison.season import SeasonClip, find_trend, list_date_shares, pool_clips
from stance.reports.pages import page
from stance.runtime.language import gettext as _
from stance.runtime.language import ngettext
from stance.statistics.inference import Clustering
from stance.statistics.pooled import estimate_clusterings
from stance.types import N_, Verdict

_CALLS: dict[Verdict, str] = {
    "down": N_(
        "Better over the season: over-side-on in {before} of {of_before} ready positions on the "
        "earlier dates, {after} of {of_after} on the later ones."
    ),
    "up": N_(
        "Worse over the season: over-side-on in {before} of {of_before} ready positions on the "
        "earlier dates, {after} of {of_after} on the later ones."
    ),
    "steady": N_(
        "No change over the season: over-side-on in {before} of {of_before} ready positions on the "
        "earlier dates, {after} of {of_after} on the later ones."
    ),
    "too_few": N_(
        "Too few ready positions to tell a change over the season: over-side-on in {before} of "
        "{of_before} on the earlier dates, {after} of {of_after} on the later ones."
    ),
}


def season_html(
    players: Mapping[str, Sequence[SeasonClip]], reports: ClipReports = NO_REPORTS
) -> str:
    """The text of the page.

    Parameters
    ----------
    players
        clips by the name of the player, at least one
    reports
        of the clips, for links
    """
    pools = {name: pool_clips(clips) for name, clips in players.items()}
    clustering = estimate_clusterings(list(pools.values()))["over_side_on"]
    names = list(players)
    return page(
        "season.html",
        title=_("Over the season: {player}").format(player=names[0])
        if len(names) == 1
        else ngettext(
            "Over the season: {number} player", "Over the season: {number} players", len(names)
        ).format(number=len(names)),
        several=len(names) > 1,
        players=[
            _describe_player(name, clips, clustering, reports) for name, clips in players.items()
        ],
    )


def describe_season(trend: ShareChange | None) -> str:
    """The sentence on a player; where there are no two dates, so."""
    if trend is None or trend.difference is None:
        return _("Two dates with ready positions are needed to tell a change.")
    return _(_CALLS[trend.verdict]).format(
        before=trend.before.count,
        of_before=trend.before.assessed,
        after=trend.after.count,
        of_after=trend.after.assessed,
    )


def _describe_player(
    name: str, clips: Sequence[SeasonClip], clustering: Clustering, reports: ClipReports
) -> dict[str, Any]:
    """What the template shows of a player."""
    dates, trend = list_date_shares(clips, clustering), find_trend(clips, clustering)
    met_clustering = estimate_met_clustering([pool_clips(clips)])
    rows = []
    for date in dates:
        pooled = pool_clips(c for c in clips if c.date == date.date)
        met = met_set_share(pooled, met_clustering)
        rows.append(
            {
                "date": date.date,
                "over": format_count(date.share),
                "over_percent": format_percent(date.share),
                "met": format_count(met) if met.assessed else "",
                "met_percent": format_percent(met),
            }
        )
    return {
        "name": name,
        "statement": describe_season(trend),
        "trend": "" if trend is None else format_trend(trend),
        "chart": draw_dates(dates) if dates else "",
        "dates": rows,
        "any_strokes": any(row["met"] for row in rows),
        "clips": [_describe_clip(clip, reports) for clip in clips],
    }


def _describe_clip(clip: SeasonClip, reports: ClipReports) -> dict[str, Any]:
    """What the template shows of a clip."""
    filming = clip.result.filming
    return {
        "file": clip.result.clip.file,
        "link": reports.link(clip.result),
        "date": clip.date,
        "session": clip.result.session,
        "over": _("{count} of {assessed}").format(
            count=clip.player.shares["over_side_on"].count, assessed=clip.player.assessed
        ),
        "filming": "" if filming is None else format_filming(filming),
    }
