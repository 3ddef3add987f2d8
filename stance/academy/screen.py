"""An academy screened: which players stand over-side-on as a habit, and how sure that is."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.stats import fisher_exact

from stance.academy.batch import analyse_jobs
from stance.academy.flags import HABIT_SHARE, flag_players, rank_by_urgency
from stance.academy.jobs import Job, Outcome
from stance.academy.labelling import label_results
from stance.academy.model import AgeGroup, ScreenedClip, ScreenedPlayer, Screening, UnusedClip
from stance.academy.remote_files import file_name
from stance.academy.result_store import Store
from stance.academy.roster import Roster, Row
from stance.academy.workers import EACH_CORE, Workers
from stance.comparison.assumed_courts import COUNT_ASSUMED, is_assumed
from stance.comparison.notices import note_unsure_hands
from stance.comparison.season import find_trend, list_date_shares, pool_clips
from stance.results.model import Notice, PlayerResult, Result
from stance.runtime.language import gettext as _
from stance.runtime.progress import Progress, no_progress
from stance.statistics.inference import Clustering
from stance.statistics.pooled import (
    COMPARED_FIELDS,
    Pool,
    draw_pool_members,
    estimate_clusterings,
    pooled_mean,
    pooled_share,
)
from stance.statistics.shares import chance_below
from stance.types import CLASSES, LEADING, NOT_ASSESSED

_COURT_UNKNOWN = _(
    "The court is not known, so the camera was assumed and the shares do not "
    "count. Mark the court (stance court CLIP) and name its file in the column "
    "court, or run with {option}."
).format(option=COUNT_ASSUMED)


def screen_roster(
    roster: Roster,
    store: Store,
    workers: Workers = EACH_CORE,
    progress: Progress = no_progress,
    count_assumed: bool = False,
) -> Screening:
    """Analyse the clips of a roster that are not stored yet, and screen all its players.

    Parameters
    ----------
    roster
        checked players and clips
    store
        where results are stored, with the roster's names, dates and sessions in them
    workers
        who does the work
    progress
        called with a stage, jobs done and jobs in all
    count_assumed
        whether clips count whose court is not known, so that the camera was assumed

    Raises
    ------
    OutputError
        If results can't be stored.
    StanceError
        If the scheduler can't be reached.
    """
    outcomes = analyse_jobs([row.job for row in roster.rows], store, workers, progress)
    labelled = label_results(roster.rows, outcomes)
    for key, result in labelled.results.items():
        store.relabel(key, result)
    notices = (*_note_unknown_columns(roster), *labelled.notices)
    return screen_players(roster.rows, outcomes, labelled.results, notices, count_assumed)


def _note_unknown_columns(roster: Roster) -> list[Notice]:
    if not roster.unknown_columns:
        return []
    return [
        Notice(
            "unknown_columns",
            _("The roster's columns {columns} mean nothing here and were left out.").format(
                columns=", ".join(roster.unknown_columns)
            ),
        )
    ]


def screen_players(
    rows: Sequence[Row],
    outcomes: Mapping[Job, Outcome],
    results: Mapping[str, Result],
    warnings: Iterable[Notice] = (),
    count_assumed: bool = False,
) -> Screening:
    """Flag all players of a roster whose clips are analysed.

    Parameters
    ----------
    rows
        the roster
    outcomes
        what became of its jobs
    results
        labelled results by key
    warnings
        to pass on
    count_assumed
        whether clips count whose court is not known
    """
    collected = _collect_clips(rows, outcomes, results, count_assumed)
    hand_notices = note_unsure_hands(
        ((c.result, c.player) for clips in collected.clips.values() for c in clips),
        _("Give the hands in the roster's column hand and run again."),
    )
    pools = {name: pool_clips(clips) for name, clips in collected.clips.items()}
    by_measure = estimate_clusterings(list(pools.values()))
    players = flag_players(
        [
            _screen_player(name, _find_age_group(rows, name), tuple(clips), pools[name], by_measure)
            for name, clips in collected.clips.items()
        ]
    )
    players.sort(key=rank_by_urgency)
    return Screening(
        tuple(players),
        _compare_age_groups(players),
        tuple(dict.fromkeys(collected.unused)),
        (*warnings, *collected.notices, *hand_notices),
    )


@dataclass
class _CollectedClips:
    """Clips by player, each recording once; those that could not be used; and what to say."""

    clips: dict[str, list[ScreenedClip]] = field(default_factory=dict)
    unused: list[UnusedClip] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)


def _collect_clips(
    rows: Sequence[Row],
    outcomes: Mapping[Job, Outcome],
    results: Mapping[str, Result],
    count_assumed: bool,
) -> _CollectedClips:
    """Sort the clips of a roster by player."""
    collected = _CollectedClips()
    for row in rows:
        clips = collected.clips.setdefault(row.player, [])
        outcome = outcomes[row.job]
        if outcome.key is None:
            reason = outcome.reason or _("It could not be analysed.")
            collected.unused.append(UnusedClip(file_name(row.job.clip), reason))
            continue
        result = results[outcome.key]
        player = next((p for p in result.players if p.name == row.player), None)
        if player is None or not (player.ready_positions or player.strokes_faced):
            reason = _explain_empty(row, result, player)
            collected.unused.append(UnusedClip(file_name(row.job.clip), reason))
            continue
        name = file_name(row.job.clip)
        if is_assumed(result) and not count_assumed:
            collected.unused.append(UnusedClip(name, _COURT_UNKNOWN))
            continue
        same = next((c for c in clips if c.result.clip.sha256 == result.clip.sha256), None)
        if same is not None:
            collected.notices.append(
                Notice(
                    "same_clip",
                    _(
                        "line {line}: {name} is the same recording as {file} and was counted once."
                    ).format(line=row.line, name=name, file=same.file),
                )
            )
            continue
        if is_assumed(result):
            collected.notices.append(_note_assumed(row.line, name))
        blurred = row.job.blur_faces
        clips.append(
            ScreenedClip(name, outcome.key, row.date, row.session, result, player, blurred)
        )
    return collected


def _note_assumed(line: int, name: str) -> Notice:
    """What to say of a clip that counts although its court is not known."""
    return Notice(
        "assumed_court",
        _(
            "line {line}: the court is not known in {name}, so the camera was assumed; it "
            "counts, as asked, and its angles are all off the same way by 20 degrees or "
            "more."
        ).format(line=line, name=name),
    )


def _explain_empty(row: Row, result: Result, player: PlayerResult | None) -> str:
    """Why a clip tells nothing of the player that the roster names."""
    if player is None and row.letter and result.players:
        letters = ", ".join(p.player for p in result.players)
        return _(
            "The roster says that {player} is player {letter}, but the clip shows only {letters}."
        ).format(player=row.player, letter=row.letter, letters=letters)
    reasons = [w.text for w in result.warnings if w.code in ("no_player", "no_ready_position")]
    return " ".join(reasons) or _("No ready position was found.")


def _find_age_group(rows: Sequence[Row], player: str) -> str:
    """A player's age group on the last date that has one; empty where none has."""
    named = [row for row in rows if row.player == player and row.age_group]
    return max(named, key=lambda row: row.date).age_group if named else ""


def _screen_player(
    name: str,
    age_group: str,
    clips: tuple[ScreenedClip, ...],
    pool: Pool,
    by_measure: Mapping[str, Clustering],
) -> ScreenedPlayer:
    """A player without q-value and flag."""
    drawn = {c: draw_pool_members([pool], c)[0] for c in CLASSES}
    leading = pooled_share(
        pool, LEADING, by_measure[LEADING], draw_pool_members([pool], LEADING)[0]
    )
    shares = {c: pooled_share(pool, c, by_measure[c], drawn[c]) for c in CLASSES}
    over = shares["over_side_on"]
    p_value = None
    if over.share is not None:
        p_value = chance_below(HABIT_SHARE, drawn["over_side_on"].mean(axis=1), over.effective)
    return ScreenedPlayer(
        player=name,
        age_group=age_group,
        flag="too_few",
        assessed=over.assessed,
        not_assessed=sum(p.stance_class == NOT_ASSESSED for p in pool.positions),
        shares=shares,
        racket_foot_leading=leading,
        means={m: pooled_mean(pool, m, by_measure[m]) for m in COMPARED_FIELDS},
        leading=_find_leading_leg(pool),
        p_value=p_value,
        q_value=None,
        dates=list_date_shares(clips, by_measure["over_side_on"]),
        trend=find_trend(clips, by_measure["over_side_on"]),
        clips=clips,
        pool=pool,
    )


def _find_leading_leg(pool: Pool) -> str | None:
    """Which leg leads where the player is over-side-on; "both" where neither clearly does."""
    over = [p for p in pool.positions if p.stance_class == "over_side_on"]
    if not over:
        return None
    racket = sum(p.racket_side_leads for p in over) / len(over)
    # A side leads where it does in four of five; other mixtures are both.
    return "racket" if racket >= 0.8 else "other" if racket <= 0.2 else "both"


def _compare_age_groups(players: Sequence[ScreenedPlayer]) -> tuple[AgeGroup, ...]:
    """Each age group, and whether habits are as frequent in it as among the others."""
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
