"""The page of a comparison."""

from collections.abc import Sequence
from typing import Any

from markupsafe import Markup

from stance.assessment.angle_words import turned_words
from stance.comparison.clip_reports import NO_REPORTS, ClipReports
from stance.comparison.examples import Example, choose_typical
from stance.comparison.model import Change, Comparison, MeasureChange, ShareChange
from stance.comparison.presentation import (
    COUNTED_TITLES,
    MEASURE_TITLES,
    draw_means,
    draw_shares,
    format_count,
    format_court,
    format_days,
    format_filming,
    format_mean,
    format_mean_range,
    format_percent,
    format_sides,
)
from stance.comparison.words import change_words, turn_words
from stance.reports.charts import paired_chart
from stance.reports.pages import page
from stance.runtime.language import gettext as _
from stance.runtime.language import ngettext
from stance.statistics.pooled import Pool, PooledShare
from stance.types import CLASS_NAMES, CLASSES, LEADING, N_, Counted, Verdict

# Fewer over-side-on and more strokes met set are aimed at; of the rest neither way is better.
_GOALS: dict[str, dict[Verdict, str]] = {
    "over_side_on": {"up": N_("worse"), "down": N_("better")},
    "met_set": {"up": N_("better"), "down": N_("worse")},
}

_CALLS: dict[Verdict, str] = {
    "up": N_("more often"),
    "down": N_("less often"),
    "steady": N_("no change"),
    "too_few": N_("too few to tell"),
}

# What the table and the charts show first is what the block is for.
_SHOWN: tuple[Counted, ...] = (
    "over_side_on",
    *(c for c in CLASSES if c != "over_side_on"),
    LEADING,
)

# Of each player of a group that alone, for the page to be read.
_GOAL: tuple[Counted, ...] = ("over_side_on",)


def comparison_html(comparison: Comparison, reports: ClipReports = NO_REPORTS) -> str:
    """The text of the page.

    Parameters
    ----------
    comparison
        what was found
    reports
        of the clips, for links and pictures
    """
    several = len(comparison.players) > 1
    whole = comparison.whole
    return page(
        "comparison.html",
        title=_("Before and after: {player}").format(player=whole.player),
        sets=[
            _describe_set(_("Before"), whole.before),
            _describe_set(_("After"), whole.after),
        ],
        whole=_describe_part(whole, NO_REPORTS if several else reports),
        warnings=[*comparison.warnings, *whole.warnings],
        paired=_draw_pairs(comparison.players) if several else None,
        players=[_describe_part(player, reports, _GOAL) for player in comparison.players]
        if several
        else [],
        clips=[row for c in comparison.players for row in _list_clips(c, reports)],
        resampled=whole.classes["over_side_on"].method == "bootstrap",
    )


def _describe_set(when: str, pool: Pool) -> str:
    """A set's clips, days and sessions: "Before: 2 clips, 2026-01-12, winter"."""
    clips = ngettext("{number} clip", "{number} clips", len(pool.results)).format(
        number=len(pool.results)
    )
    sessions = dict.fromkeys(r.session for r in pool.results if r.session)
    words = ", ".join([clips, *format_days(r.date for r in pool.results), *sessions])
    return _("{when}: {clips}").format(when=when, clips=words)


def _draw_pairs(changes: Sequence[Change]) -> Markup:
    """Each player's share of over-side-on before and after, joined by a line."""
    pairs = []
    for change in changes:
        over = change.classes["over_side_on"]
        if over.before.share is not None and over.after.share is not None:
            is_sure = over.verdict in ("up", "down")
            pairs.append((change.player, over.before.share, over.after.share, is_sure))
    label = "; ".join(
        _("{name} {before} % to {after} %").format(
            name=name, before=round(100 * before), after=round(100 * after)
        )
        for name, before, after, _sure in pairs
    )
    return paired_chart(
        pairs, _("How often over-side-on, before and after: {players}").format(players=label)
    )


def _describe_part(
    change: Change, reports: ClipReports, shown: Sequence[Counted] = _SHOWN
) -> dict[str, Any]:
    """What the template shows of one player or the group; `shown` are the rows of its table."""
    return {
        "name": change.player,
        "call": change.sentences[0],
        "more": change.sentences[1:],
        "advice": change.advice,
        "warnings": change.warnings,
        "positions": len(change.before.positions) + len(change.after.positions),
        "examples": _list_examples(change, reports),
        "rows": [
            *(_share_row(what, _(COUNTED_TITLES[what]), change.share_of(what)) for what in shown),
            *(
                [_share_row("met_set", _("strokes met set"), change.met_set)]
                if change.met_set.before.assessed or change.met_set.after.assessed
                else []
            ),
            *(_measure_row(name, change.measures[name]) for name in MEASURE_TITLES),
        ],
        "sides": [
            {"when": when, "words": words}
            for when, pool in ((_("before"), change.before), (_("after"), change.after))
            if (words := format_sides(pool))
        ],
        "shares": [
            {"name": _(COUNTED_TITLES[what]), "chart": _draw_share(change, what)} for what in shown
        ],
        "measures": [
            {"name": _(MEASURE_TITLES[name]), "chart": _draw_mean(change, name)}
            for name in MEASURE_TITLES
        ],
    }


def _list_examples(change: Change, reports: ClipReports) -> list[dict[str, Any]]:
    """The typical stances of both sets; none where there is no picture of either."""
    sides = [
        {"when": when, "figures": [_describe_example(e, pool, reports) for e in chosen]}
        for when, pool in ((_("Before"), change.before), (_("After"), change.after))
        for chosen in [choose_typical(list(zip(pool.results, pool.players, strict=True)), reports)]
    ]
    return sides if any(side["figures"] for side in sides) else []


def _describe_example(example: Example, pool: Pool, reports: ClipReports) -> dict[str, Any]:
    """What the template shows of a typical stance."""
    position = example.position
    count = int(pool.members(position.stance_class).sum())
    return {
        "picture": example.picture,
        "class": position.stance_class,
        "class_name": _(CLASS_NAMES[position.stance_class]),
        "count": _("{count} of {assessed}").format(count=count, assessed=int(pool.assessed.sum())),
        "angles": _("feet {feet}, hips {hips}").format(
            feet=turned_words(position.lead_angle_deg), hips=turned_words(position.hip_yaw_deg)
        ),
        "link": reports.link(example.result, example.player, example.number),
        "clip": example.result.clip.file,
        "day": example.result.date,
    }


def _share_row(what: str, name: str, change: ShareChange) -> dict[str, Any]:
    """A row of the table: a share before and after, its change, and what that is called."""
    call = _GOALS.get(what, {}).get(change.verdict, _CALLS[change.verdict])
    row = {
        "name": name,
        "before": {"main": format_count(change.before), "small": format_percent(change.before)},
        "after": {"main": format_count(change.after), "small": format_percent(change.after)},
        "change": _("not known"),
        "range": "",
        "call": _(call),
        "goal": call if call in ("better", "worse") else "",
    }
    if change.difference is None:
        return row
    shares = change.average or (change.before.share or 0.0, change.after.share or 0.0)
    if change.average is not None:
        row["before"], row["after"] = (
            _describe_average(share, side)
            for share, side in zip(shares, (change.before, change.after), strict=True)
        )
    return row | {
        "change": _describe_points(*shares),
        "range": _("likely {range}").format(range=change_words(*change.interval)),
    }


def _describe_average(share: float, pooled: PooledShare) -> dict[str, str]:
    """The average player's share, and the count over all players."""
    return {
        "main": _("{share}\u00a0%").format(share=round(100 * share)),
        "small": _("{count} over all").format(count=format_count(pooled)),
    }


def _describe_points(before: float, after: float) -> str:
    """A change in percentage points, as the shares of both sets are shown."""
    points = round(100 * after) - round(100 * before)
    if points == 0:
        return _("none")
    words = (
        ngettext("{points} percentage point less", "{points} percentage points less", -points)
        if points < 0
        else ngettext("{points} percentage point more", "{points} percentage points more", points)
    )
    return words.format(points=abs(points))


def _measure_row(name: str, change: MeasureChange) -> dict[str, Any]:
    """The same for the mean of an angle."""
    row = {
        "name": _("{part}, on average").format(part=_(MEASURE_TITLES[name])),
        "before": {"main": format_mean(change.before), "small": format_mean_range(change.before)},
        "after": {"main": format_mean(change.after), "small": format_mean_range(change.after)},
        "change": _("not known"),
        "range": "",
        "call": _("too few to tell"),
        "goal": "",
    }
    means = change.average or (change.before.value, change.after.value)
    before, after = means
    if change.difference is None or before is None or after is None:
        return row
    if change.average is not None:
        row["before"], row["after"] = (
            {"main": turned_words(m), "small": ""} for m in (before, after)
        )
    turn = round(after) - round(before)
    low, high = change.interval
    row["change"] = turn_words(turn, turn) if turn else _("none")
    if (low, high) == (-180.0, 180.0):
        return row
    row["range"] = _("likely {range}").format(range=turn_words(low, high))
    if low <= 0 <= high:
        return row | {"call": _("no sure change")}
    return row | {"call": _("squarer") if abs(after) < abs(before) else _("more side-on")}


def _draw_share(change: Change, what: Counted) -> Markup:
    share = change.share_of(what)
    return draw_shares(
        what,
        [
            (_("before"), share.before, change.before),
            (_("after"), share.after, change.after),
        ],
    )


def _draw_mean(change: Change, name: str) -> Markup:
    measure = change.measures[name]
    return draw_means(
        name,
        [
            (_("before"), measure.before, change.before),
            (_("after"), measure.after, change.after),
        ],
    )


def _list_clips(change: Change, reports: ClipReports) -> list[dict[str, Any]]:
    """A row of the table of clips for each clip of a player, in the order of the dates."""
    rows = []
    for when, pool in ((_("before"), change.before), (_("after"), change.after)):
        numbers = sorted(range(len(pool.results)), key=lambda n: pool.results[n].date)
        for number in numbers:
            result = pool.results[number]
            rows.append(
                {
                    "when": when,
                    "player": change.player,
                    "date": result.date,
                    "session": result.session,
                    "file": result.clip.file,
                    "link": reports.link(result),
                    "filming": format_filming(pool.filmings[number]),
                    "court": format_court(result.court.source),
                    "assessed": int((pool.assessed_clips() == number).sum()),
                }
            )
    return rows
