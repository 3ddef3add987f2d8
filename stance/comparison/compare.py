"""Before and after: what changed in a player's stances, and how sure that is."""

from collections.abc import Mapping, Sequence

from stance.comparison.cautions import filming_warnings, hands_unsure
from stance.comparison.changes import measure_change, share_change
from stance.comparison.group import compare_groups, distinct
from stance.comparison.matching import match_nameless, matched_players, nobody_in_both
from stance.comparison.model import Change, Comparison
from stance.comparison.statement import change_statement
from stance.errors import InputError
from stance.results.model import Notice, Result
from stance.statistics.inference import Clustering
from stance.statistics.pooled import MEASURES, Pool, estimate_clusterings, pool
from stance.types import CLASSES


def compare(
    before: Sequence[Result],
    after: Sequence[Result],
    player: str | None = None,
) -> Comparison:
    """Compare two sets of results of the same player or players.

    Parameters
    ----------
    before, after : results of several clips each
    player : name or letter of the only player wanted

    Raises
    ------
    InputError
        If a clip is in both sets, or no player is in both.
    """
    warnings: list[Notice] = []
    before, after = distinct(before, "before", warnings), distinct(after, "after", warnings)
    both = {r.clip.sha256 for r in before} & {r.clip.sha256 for r in after}
    if both:
        names = ", ".join(r.clip.file for r in before if r.clip.sha256 in both)
        raise InputError(
            f"The same clip is in both sets: {names}. Give clips from before the block to "
            "--before and clips from after it to --after."
        )
    sets = [matched_players(results, player) for results in (before, after)]
    match_nameless(sets, warnings)
    shared = [name for name in sets[0] if name in sets[1]]
    if not shared:
        raise InputError(nobody_in_both(sets, player))
    for index, when in ((0, "before"), (1, "after")):
        only = [name for name in sets[index] if name not in sets[1 - index]]
        if only:
            warnings.append(
                Notice("one_side_only", f"Only in the set {when}, so left out: {', '.join(only)}.")
            )
    if any(len(r.players) > 1 and not all(p.name for p in r.players) for r in (*before, *after)):
        warnings.append(
            Notice(
                "nameless",
                "Some clips show several players without names, so they are matched by their "
                "letters, which may change from clip to clip. Name the players when analysing, or "
                "compare one with --player.",
            )
        )
    warnings += hands_unsure(
        (pair for name in shared for one in sets for pair in one[name]),
        "Run again with --hand right or --hand left.",
    )
    pools = {name: (pool(sets[0][name]), pool(sets[1][name])) for name in shared}
    alike = estimate_clusterings([side for pair in pools.values() for side in pair])
    changes = tuple(change_of(name, *pair, alike) for name, pair in pools.items())
    group = compare_groups(changes, alike) if len(changes) > 1 else None
    return Comparison(changes, group, tuple(warnings))


def change_of(
    player: str,
    before: Pool,
    after: Pool,
    alike: Mapping[str, Clustering],
) -> Change:
    """What changed for one player.

    Parameters
    ----------
    player : name shown
    before, after : the player's ready positions
    alike : by class and measure, how alike positions of one clip are
    """
    classes = {name: share_change(before, after, name, alike[name]) for name in CLASSES}
    measures = {name: measure_change(before, after, name, alike[name]) for name in MEASURES}
    warnings = filming_warnings(before, after)
    one_clip = min(len(before.results), len(after.results)) == 1
    statement = change_statement(classes["over_side_on"], measures, bool(warnings), one_clip)
    if one_clip:
        warnings.append(
            Notice(
                "one_clip",
                "A set of a single clip is too few clips to tell how much this player's days differ, "
                "so that is assumed; where they differ much, the intervals are too narrow. Several "
                "short clips from different days tell more than one long clip.",
            )
        )
    return Change(player, before, after, classes, measures, statement, tuple(warnings))
