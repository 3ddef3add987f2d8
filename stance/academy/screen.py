"""An academy: which players wait over-side-on as a habit, and how sure that is."""

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.stats import false_discovery_control, fisher_exact

from stance.academy.batch import Job, Outcome
from stance.academy.remote_files import file_name
from stance.academy.roster import Row
from stance.assessment.labels import labelled
from stance.comparison.cautions import hands_unsure
from stance.comparison.changes import share_change
from stance.comparison.model import ShareChange
from stance.results.model import Notice, PlayerResult, Result
from stance.statistics.inference import Clustering
from stance.statistics.pooled import (
    MEASURES,
    Pool,
    PooledMean,
    PooledShare,
    draw_pool_members,
    estimate_clusterings,
    pool,
    pooled_mean,
    pooled_share,
)
from stance.statistics.shares import chance_below, share_interval
from stance.statistics.statement import racket_side_leads
from stance.types import CLASSES, NOT_ASSESSED, Flag, StanceClass

# Over-side-on in more than this share of the ready positions is called a habit. No published
# limit exists; why a quarter: docs/comparing.md.
HABIT_SHARE = 0.25

# "No sign" is said only where the interval stays below this: then a player surely does not wait
# over-side-on most of the time.
RULED_OUT_SHARE = 0.5

# Part of the players called a habit that may be called so wrongly, on average.
FALSE_DISCOVERIES = 0.05

FLAG_NAMES: dict[Flag, str] = {
    "habit": "habit",
    "watch": "watch",
    "no_sign": "no sign",
    "too_few": "too few to say",
}


@dataclass(frozen=True)
class Day:
    """A player's share of over-side-on on one date."""

    date: str
    share: PooledShare


@dataclass(frozen=True)
class Clip:
    """One clip of a player, and where its report is kept."""

    file: str
    key: str
    date: str
    session: str
    result: Result
    player: PlayerResult


@dataclass(frozen=True)
class Screened:
    """One player of the academy.

    Attributes
    ----------
    player, age_group : as in the roster; the group of the last date
    flag : what follows from the share of over-side-on and its interval
    assessed, not_assessed : ready positions
    shares : by class
    means : by measure
    leading : which leg leads in the over-side-on positions: "racket", "other", "both", or None
    p_value : chance to look so side-on at a share of `HABIT_SHARE`; None with nothing assessed
    q_value : the same with the false discovery rate over the academy held
    days : share on each date, in order
    trend : change from the earlier half of the dates to the later; None without two dates
    clips : the player's
    """

    player: str
    age_group: str
    flag: Flag
    assessed: int
    not_assessed: int
    shares: dict[StanceClass, PooledShare]
    means: dict[str, PooledMean]
    leading: str | None
    p_value: float | None
    q_value: float | None
    days: tuple[Day, ...]
    trend: ShareChange | None
    clips: tuple[Clip, ...]


@dataclass(frozen=True)
class AgeGroup:
    """The players of one age group.

    Attributes
    ----------
    name : as in the roster
    players, habits : players, and those among them with the flag "habit"
    share : mean of the players' own shares of over-side-on; None where nobody was assessed
    p_value : that habits are as frequent as among all other players (Fisher's exact test); None
        where there are no others
    """

    name: str
    players: int
    habits: int
    share: float | None
    p_value: float | None


@dataclass(frozen=True)
class Failed:
    """A clip that could not be used, and why."""

    clip: str
    reason: str


@dataclass(frozen=True)
class Screening:
    """The academy's players, the surest habit first."""

    players: tuple[Screened, ...]
    groups: tuple[AgeGroup, ...]
    failed: tuple[Failed, ...]
    warnings: tuple[Notice, ...]


def labelled_results(
    rows: Sequence[Row],
    outcomes: Mapping[Job, Outcome],
) -> tuple[dict[str, Result], list[Notice]]:
    """Results by key with the roster's names, dates and sessions, and what to say of them.

    Parameters
    ----------
    rows : the roster
    outcomes : of its jobs
    """
    labelled_by_key: dict[str, Result] = {}
    warnings = []
    names: dict[str, dict[str, str]] = {}
    for row in rows:
        outcome = outcomes[row.job]
        if outcome.key is None or outcome.result is None:
            continue
        letter, notice = _letter(row, outcome.result)
        warnings += notice
        of_clip = names.setdefault(outcome.key, {})
        if letter:
            of_clip[letter] = row.player
        labelled_by_key[outcome.key] = labelled(outcome.result, of_clip, row.date, row.session)
    return labelled_by_key, warnings


def screen(
    rows: Sequence[Row],
    outcomes: Mapping[Job, Outcome],
    results: Mapping[str, Result],
    warnings: Iterable[Notice] = (),
) -> Screening:
    """Screen an academy.

    Parameters
    ----------
    rows : the roster
    outcomes : what became of its jobs
    results : labelled results by key
    warnings : to pass on
    """
    notices, failed = list(warnings), []
    clips: dict[str, list[Clip]] = {}
    groups: dict[str, list[tuple[str, str]]] = {}
    for row in rows:
        clips.setdefault(row.player, [])
        groups.setdefault(row.player, []).append((row.date, row.age_group))
        outcome = outcomes[row.job]
        name = file_name(row.job.clip)
        if outcome.key is None:
            failed.append(Failed(row.job.clip, outcome.reason or "It could not be analysed."))
            continue
        result = results[outcome.key]
        player = next((p for p in result.players if p.name == row.player), None)
        if player is None or not player.ready_positions:
            failed.append(Failed(row.job.clip, _why_empty(row, result, player)))
            continue
        same = next(
            (c for c in clips[row.player] if c.result.clip.sha256 == result.clip.sha256), None
        )
        if same is not None:
            notices.append(
                Notice(
                    "same_clip",
                    f"line {row.line}: {name} is the same recording "
                    f"as {same.file} and was counted once.",
                )
            )
            continue
        clips[row.player].append(Clip(name, outcome.key, row.date, row.session, result, player))
    notices += hands_unsure(
        ((c.result, c.player) for own in clips.values() for c in own),
        "Give the hands in the roster's column hand and run again.",
    )
    pools = {name: pool([(c.result, c.player) for c in own]) for name, own in clips.items()}
    alike = estimate_clusterings(list(pools.values()))
    players = [
        _screened(name, _last_group(groups[name]), one, tuple(clips[name]), alike)
        for name, one in pools.items()
    ]
    players = _flagged(players)
    players.sort(key=_surest_first)
    return Screening(
        tuple(players), _age_groups(players), tuple(dict.fromkeys(failed)), tuple(notices)
    )


def flag_of(share: PooledShare, p_value: float | None, q_value: float | None) -> Flag:
    """The flag that follows from the interval of the share of over-side-on.

    Habit: surely above `HABIT_SHARE`, with the false discovery rate held. Too few: so few
    positions that even a player with none over-side-on could not be told from one who mostly is.
    Watch: more likely above `HABIT_SHARE` than not, but not surely. No sign: more likely below
    it, and surely below `RULED_OUT_SHARE`.

    Parameters
    ----------
    share : with its interval
    p_value, q_value : as in `Screened`
    """
    if share.share is None or p_value is None or q_value is None:
        return "too_few"
    nothing_seen = np.zeros(1)
    if share_interval(0.0, nothing_seen, share.effective)[1] >= RULED_OUT_SHARE:
        return "too_few"
    if q_value <= FALSE_DISCOVERIES:
        return "habit"
    if p_value < 0.5:
        return "watch"
    return "no_sign" if share.interval[1] < RULED_OUT_SHARE else "too_few"


def _letter(row: Row, result: Result) -> tuple[str | None, list[Notice]]:
    """Which of a clip's players the row means."""
    letters = [p.player for p in result.players]
    clip = file_name(row.job.clip)
    if row.letter:
        if row.letter in letters:
            return row.letter, []
        return None, []
    if len(letters) < 2:
        return (letters[0] if letters else None), []
    seen = max(result.players, key=lambda p: p.frames_seen).player
    return seen, [
        Notice(
            "several_players",
            f"line {row.line}: {clip} shows {len(letters)} players, and the roster does not say "
            f"which is {row.player}; player {seen}, who is in view longest, was taken. Add a column "
            "letter that says who is who.",
        )
    ]


def _why_empty(row: Row, result: Result, player: PlayerResult | None) -> str:
    if player is None and row.letter and result.players:
        letters = ", ".join(p.player for p in result.players)
        return (
            f"The roster says that {row.player} is player {row.letter}, but the clip shows "
            f"only {letters}."
        )
    told = [w.text for w in result.warnings if w.code in ("no_player", "no_ready_position")]
    return " ".join(told) or "No ready position was found."


def _last_group(dated: Sequence[tuple[str, str]]) -> str:
    """The age group of the last date that has one."""
    named = [(date, group) for date, group in dated if group]
    return max(named, key=lambda pair: pair[0])[1] if named else ""


def _screened(
    name: str,
    age_group: str,
    one: Pool,
    clips: tuple[Clip, ...],
    alike: Mapping[str, Clustering],
) -> Screened:
    """A player without q-value and flag."""
    drawn = {c: draw_pool_members([one], c)[0] for c in CLASSES}
    shares = {c: pooled_share(one, c, alike[c], drawn[c]) for c in CLASSES}
    over = shares["over_side_on"]
    p_value = None
    if over.share is not None:
        p_value = chance_below(HABIT_SHARE, drawn["over_side_on"].mean(axis=1), over.effective)
    not_assessed = sum(p.stance_class == NOT_ASSESSED for p in one.positions)
    return Screened(
        name,
        age_group,
        "too_few",
        over.assessed,
        not_assessed,
        shares,
        {m: pooled_mean(one, m, alike[m]) for m in MEASURES},
        _leading(one),
        p_value,
        None,
        _days(clips, alike["over_side_on"]),
        _trend(clips, alike["over_side_on"]),
        clips,
    )


def _flagged(players: Sequence[Screened]) -> list[Screened]:
    """Players with q-values and flags.

    Notes
    -----
    Y. Benjamini and Y. Hochberg, Journal of the Royal Statistical Society B 57 (1995) 289-300.
    """
    told = [p.p_value for p in players if p.p_value is not None]
    q_values = iter(false_discovery_control(told, method="bh") if told else ())
    flagged = []
    for player in players:
        q_value = None if player.p_value is None else float(next(q_values))
        flag = flag_of(player.shares["over_side_on"], player.p_value, q_value)
        flagged.append(replace(player, q_value=q_value, flag=flag))
    return flagged


def _surest_first(player: Screened) -> tuple[float, float, str]:
    share = player.shares["over_side_on"].share
    return (2.0 if player.p_value is None else player.p_value, -(share or 0.0), player.player)


def _leading(one: Pool) -> str | None:
    """Which leg leads where the player is over-side-on; "both" where neither clearly does."""
    over = [p for p in one.positions if p.stance_class == "over_side_on"]
    if not over:
        return None
    racket = sum(racket_side_leads(p) for p in over) / len(over)
    # A side leads where it does in four of five; other mixtures are both.
    return "racket" if racket >= 0.8 else "other" if racket <= 0.2 else "both"


def _pool_of(clips: Iterable[Clip]) -> Pool:
    return pool([(c.result, c.player) for c in clips])


def _days(clips: Sequence[Clip], alike: Clustering) -> tuple[Day, ...]:
    days = []
    for date in sorted({c.date for c in clips if c.date}):
        one = _pool_of(c for c in clips if c.date == date)
        (drawn,) = draw_pool_members([one], "over_side_on")
        days.append(Day(date, pooled_share(one, "over_side_on", alike, drawn)))
    return tuple(days)


def _trend(clips: Sequence[Clip], alike: Clustering) -> ShareChange | None:
    """Change from the earlier half of the dates to the later half."""
    dates = sorted({c.date for c in clips if c.date})
    if len(dates) < 2:
        return None
    later = _later(dates)
    dated = [c for c in clips if c.date]
    return share_change(
        _pool_of(c for c in dated if c.date not in later),
        _pool_of(c for c in dated if c.date in later),
        "over_side_on",
        alike,
    )


def _later(dates: Sequence[str]) -> set[str]:
    """The later half of the dates; a middle one goes where it is nearer."""
    middle = len(dates) // 2
    if len(dates) % 2 == 0:
        return set(dates[middle:])
    days = [datetime.date.fromisoformat(d).toordinal() for d in dates]
    nearer_to_end = days[middle + 1] - days[middle] < days[middle] - days[middle - 1]
    return set(dates[middle if nearer_to_end else middle + 1 :])


def _age_groups(players: Sequence[Screened]) -> tuple[AgeGroup, ...]:
    groups = []
    for name in sorted({p.age_group for p in players if p.age_group}):
        own = [p for p in players if p.age_group == name]
        others = [p for p in players if p.age_group != name]
        habits, other_habits = (sum(p.flag == "habit" for p in some) for some in (own, others))
        shares = [p.shares["over_side_on"].share for p in own]
        known = [s for s in shares if s is not None]
        p_value = None
        if others:
            p_value = float(
                fisher_exact(
                    [[habits, len(own) - habits], [other_habits, len(others) - other_habits]]
                ).pvalue
            )
        groups.append(
            AgeGroup(name, len(own), habits, float(np.mean(known)) if known else None, p_value)
        )
    return tuple(groups)
