"""Before and after: what changed in a player's stances, and how sure that is."""

from collections.abc import Mapping, Sequence

from stance.comparison.advice import advise, find_work_on
from stance.comparison.assumed_courts import choose_counted
from stance.comparison.changes import compare_measure, compare_share
from stance.comparison.group import compare_group
from stance.comparison.matching import match_players
from stance.comparison.met_set import MET_SET, compare_met_set, estimate_met_clustering
from stance.comparison.model import Change, Comparison
from stance.comparison.notices import note_filming_differences, note_unsure_hands
from stance.comparison.statement import describe_change, describe_met_set
from stance.errors import InputError
from stance.results.model import Notice, Result
from stance.runtime.language import gettext as _
from stance.statistics.inference import Clustering
from stance.statistics.pooled import COMPARED_FIELDS, Pool, estimate_clusterings, pool
from stance.types import CLASSES, LEADING, N_

_REPEATED_BEFORE = N_(
    "{repeated} of the clips before are the same recording as another and were counted once."
)
_REPEATED_AFTER = N_(
    "{repeated} of the clips after are the same recording as another and were counted once."
)


def compare(
    before: Sequence[Result],
    after: Sequence[Result],
    player: str | None = None,
    count_assumed: bool = False,
) -> Comparison:
    """Compare two sets of results of the same player or players.

    Parameters
    ----------
    before, after
        results of several clips each
    player
        name or letter of the only player wanted
    count_assumed
        whether clips count whose court is not known, so that the camera was assumed

    Raises
    ------
    InputError
        If a clip is in both sets, no player is in both, or no court is known in one of them.
    """
    warnings = [*_note_repeated(before, _REPEATED_BEFORE), *_note_repeated(after, _REPEATED_AFTER)]
    before, after = _drop_repeated(before), _drop_repeated(after)
    _refuse_shared_clips(before, after)
    counted = [
        choose_counted(results, when, count_assumed)
        for results, when in ((before, "before"), (after, "after"))
    ]
    warnings += [notice for side in counted for notice in side.notices]
    matched = match_players(counted[0].results, counted[1].results, player)
    warnings += matched.notices
    warnings += note_unsure_hands(
        (
            clip
            for name in matched.before
            for clips_of in (matched.before, matched.after)
            for clip in clips_of[name]
        ),
        _("Run again with --hand right or --hand left."),
    )
    pools = {
        name: (pool(clips), pool(matched.after[name])) for name, clips in matched.before.items()
    }
    sides = [side for pair in pools.values() for side in pair]
    by_measure = estimate_clusterings(sides) | {MET_SET: estimate_met_clustering(sides)}
    changes = tuple(compare_player(name, *pair, by_measure) for name, pair in pools.items())
    group = compare_group(changes, by_measure) if len(changes) > 1 else None
    return Comparison(changes, group, tuple(warnings))


def compare_player(
    player: str,
    before: Pool,
    after: Pool,
    clusterings: Mapping[str, Clustering],
) -> Change:
    """What changed for one player.

    Parameters
    ----------
    player
        name shown
    before, after
        the player's ready positions
    clusterings
        by class and measure, how much positions of one clip resemble each other; by `MET_SET`, how
        much strokes do
    """
    classes = {name: compare_share(before, after, name, clusterings[name]) for name in CLASSES}
    leading = compare_share(before, after, LEADING, clusterings[LEADING])
    measures = {
        name: compare_measure(before, after, name, clusterings[name]) for name in COMPARED_FIELDS
    }
    warnings = note_filming_differences(before, after)
    one_clip = min(len(before.results), len(after.results)) == 1
    met_set = compare_met_set(before, after, clusterings[MET_SET])
    over = classes["over_side_on"]
    sentences = describe_change(over, measures, bool(warnings), one_clip)
    work_on = find_work_on(after, over.after, leading.after)
    advice = advise(over, bool(warnings), one_clip, work_on=work_on)
    if one_clip:
        warnings.append(
            Notice(
                "one_clip",
                _(
                    "A set of a single clip is too few clips to tell how much this player's days "
                    "differ, so that is assumed; where they differ much, the likely ranges are too "
                    "narrow. Several short clips from different days tell more than one long clip."
                ),
            )
        )
    return Change(
        player,
        before,
        after,
        classes,
        leading,
        met_set,
        measures,
        (*sentences, *describe_met_set(met_set)),
        advice,
        tuple(warnings),
    )


def _refuse_shared_clips(before: Sequence[Result], after: Sequence[Result]) -> None:
    """Raise where a clip is in both sets."""
    both = {r.clip.sha256 for r in before} & {r.clip.sha256 for r in after}
    if both:
        names = ", ".join(r.clip.file for r in before if r.clip.sha256 in both)
        raise InputError(
            _(
                "The same clip is in both sets: {names}. Give clips from before the block to "
                "--before and clips from after it to --after."
            ).format(names=names)
        )


def _drop_repeated(results: Sequence[Result]) -> list[Result]:
    """Each recording once."""
    return list({r.clip.sha256: r for r in results}.values())


def _note_repeated(results: Sequence[Result], text: str) -> list[Notice]:
    """What to say of recordings that are in a set more than once."""
    repeated = len(results) - len({r.clip.sha256 for r in results})
    if not repeated:
        return []
    return [
        Notice(
            "same_clip",
            _(text).format(repeated=repeated),
        )
    ]
