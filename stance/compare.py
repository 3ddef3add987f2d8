"""Before and after: what changed in a player's stances, and how sure that is."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stance.errors import InputError
from stance.filming import hands_unsure
from stance.inference import (
    ENOUGH_CLIPS,
    Clustering,
    IntArray,
    bootstrap_interval,
    cochran_mantel_haenszel,
    effective_number,
    mantel_haenszel_weights,
    newcombe_interval,
    resample,
    summed_interval,
)
from stance.pooled import (
    MEASURES,
    Pool,
    PooledMean,
    PooledShare,
    Z,
    clusterings,
    drawn_members,
    pool,
    pooled_mean,
    pooled_share,
    shared_variance,
    turned,
)
from stance.result import CLASSES, Filming, Notice, PlayerResult, Result
from stance.shares import wilson_interval

# The smallest change of a share that is worth telling a coach: one ready position in five. Only
# where the interval lies within it "no change" is said. Our choice.
WORTH_TELLING = 0.2

# A bootstrap needs clips that differ: so many positions in and out of the class on each side.
_ENOUGH_EACH = 5

# Phones that stand closer in height than this are called the same height.
_SAME_HEIGHT_M = 0.5

_MOST_MORE = 2000
_PARTS = {"lead_angle_deg": "foot", "hip_yaw_deg": "hip"}


@dataclass(frozen=True)
class ShareChange:
    """Change of one class's share.

    Attributes
    ----------
    before, after : PooledShare
    difference : after - before, None where a side is empty; in a group the weighted mean of the
        players' own differences
    interval : 95 % interval of the difference, (-1, 1) where it says nothing
    verdict : "up", "down", "steady" (the change is surely smaller than `WORTH_TELLING`) or
        "too_few"
    more_needed : further ready positions in each set that would tell, where too few
    method : "score" or "bootstrap"
    p_value : of no change within any player (Cochran-Mantel-Haenszel), for a group only
    """

    before: PooledShare
    after: PooledShare
    difference: float | None
    interval: tuple[float, float]
    verdict: str
    more_needed: int | None
    method: str
    p_value: float | None = None


@dataclass(frozen=True)
class MeasureChange:
    """Change of a measure's mean in degrees; None where a side has no value."""

    before: PooledMean
    after: PooledMean
    difference: float | None
    interval: tuple[float, float]


@dataclass(frozen=True)
class Change:
    """What changed for one player, or for the group.

    `warnings` hold what the coach must know beside the numbers.
    """

    player: str
    before: Pool
    after: Pool
    classes: dict[str, ShareChange]
    measures: dict[str, MeasureChange]
    statement: str
    warnings: tuple[Notice, ...]


@dataclass(frozen=True)
class Comparison:
    """All players' changes and, with several players, the group's.

    `warnings` concern the choice of results; those on filming are in the changes.
    """

    players: tuple[Change, ...]
    group: Change | None
    warnings: tuple[Notice, ...]

    @property
    def whole(self) -> Change:
        """The group's change or, with one player, that player's."""
        return self.group or self.players[0]


def compare(
    before: Sequence[Result], after: Sequence[Result], player: str | None = None,
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
    before, after = _distinct(before, "before", warnings), _distinct(after, "after", warnings)
    both = {r.clip.sha256 for r in before} & {r.clip.sha256 for r in after}
    if both:
        names = ", ".join(r.clip.file for r in before if r.clip.sha256 in both)
        raise InputError(
            f"The same clip is in both sets: {names}. Give clips from before the block to "
            "--before and clips from after it to --after.")
    sets = [_by_player(results, player) for results in (before, after)]
    _match_nameless(sets, warnings)
    shared = [name for name in sets[0] if name in sets[1]]
    if not shared:
        raise InputError(_nobody_in_both(sets, player))
    for index, when in ((0, "before"), (1, "after")):
        only = [name for name in sets[index] if name not in sets[1 - index]]
        if only:
            warnings.append(Notice("one_side_only",
                f"Only in the set {when}, so left out: {', '.join(only)}."))
    if any(len(r.players) > 1 and not all(p.name for p in r.players)
           for r in (*before, *after)):
        warnings.append(Notice("nameless",
            "Some clips show several players without names, so they are matched by their "
            "letters, which may change from clip to clip. Name the players when analysing, or "
            "compare one with --player."))
    warnings += hands_unsure(
        (pair for name in shared for one in sets for pair in one[name]),
        "Run again with --hand right or --hand left.")
    pools = {name: (pool(sets[0][name]), pool(sets[1][name])) for name in shared}
    alike = clusterings([side for pair in pools.values() for side in pair])
    changes = tuple(change_of(name, *pair, alike) for name, pair in pools.items())
    group = _group(changes, alike) if len(changes) > 1 else None
    return Comparison(changes, group, tuple(warnings))


def change_of(
    player: str, before: Pool, after: Pool, alike: Mapping[str, Clustering],
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
    warnings = _filming_warnings(before, after)
    one_clip = min(len(before.results), len(after.results)) == 1
    statement = _statement(classes["over_side_on"], measures, bool(warnings), one_clip)
    if one_clip:
        warnings.append(Notice("one_clip",
            "A set of a single clip is too few clips to tell how much this player's days differ, "
            "so that is assumed; where they differ much, the intervals are too narrow. Several "
            "short clips from different days tell more than one long clip."))
    return Change(player, before, after, classes, measures, statement, tuple(warnings))


def share_change(
    before: Pool, after: Pool, stance_class: str, alike: Clustering,
) -> ShareChange:
    """Change of a class's share with its interval.

    Parameters
    ----------
    before, after : the same player's
    stance_class : class
    alike : how alike positions of one clip are
    """
    drawn = drawn_members([before, after], stance_class)
    sides = [pooled_share(side, stance_class, alike, members)
             for side, members in zip((before, after), drawn, strict=True)]
    first, second = sides
    if first.share is None or second.share is None:
        return ShareChange(first, second, None, (-1.0, 1.0), "too_few", None, "score")
    difference = second.share - first.share
    method = "score"
    if _enough_clips(before, first) and _enough_clips(after, second):
        method = "bootstrap"
        resampled = (_resampled(after.assessed_clips(), drawn[1], 1)
                     - _resampled(before.assessed_clips(), drawn[0], 0))
        clips = min(len(set(s.assessed_clips().tolist())) for s in (before, after))
        interval = bootstrap_interval(resampled, clips)
        interval = min(interval[0], difference), max(interval[1], difference)
    else:
        shares = [members.mean(axis=1) for members in drawn]
        interval = newcombe_interval(second.share, second.interval, first.share, first.interval,
                                     _correlation(shares, sides))
    interval = max(interval[0], -1.0), min(interval[1], 1.0)
    verdict = _verdict(interval)
    more = (_more_needed(before, after, sides, interval, alike) if verdict == "too_few"
            else None)
    return ShareChange(first, second, difference, interval, verdict, more, method)


def measure_change(before: Pool, after: Pool, name: str, alike: Clustering) -> MeasureChange:
    """Change of a measure's mean; an error shared by both sides cancels.

    Parameters
    ----------
    before, after : the same player's
    name : of a measure
    alike : how alike positions of one clip are
    """
    first, second = (pooled_mean(side, name, alike) for side in (before, after))
    if first.value is None or second.value is None:
        return MeasureChange(first, second, None, (-180.0, 180.0))
    difference = float(turned(np.array(second.value), first.value))
    variance = (first.sampling_variance + second.sampling_variance
                + shared_variance([before, after], name))
    half = min(Z * float(np.sqrt(variance)), 360.0)
    return MeasureChange(first, second, difference, (
        max(difference - half, -180.0), min(difference + half, 180.0)))


def _verdict(interval: tuple[float, float]) -> str:
    if interval[0] > 0:
        return "up"
    if interval[1] < 0:
        return "down"
    return "steady" if max(-interval[0], interval[1]) < WORTH_TELLING else "too_few"


def _enough_clips(side: Pool, share: PooledShare) -> bool:
    """Whether clips may be resampled: many, and differing."""
    clips = len(set(side.assessed_clips().tolist()))
    return clips >= ENOUGH_CLIPS and _ENOUGH_EACH <= share.count <= share.assessed - _ENOUGH_EACH


def _resampled(clips: IntArray, drawn: NDArray[np.bool_], seed: int) -> NDArray[np.float64]:
    """Shares of resampled clips, each with one draw of the classes: (draws,)."""
    _, index = np.unique(clips, return_inverse=True)
    sizes = np.bincount(index)
    of_clip = np.zeros((len(drawn), len(sizes)))
    for number in range(len(sizes)):
        of_clip[:, number] = drawn[:, index == number].sum(axis=1)
    times = resample(len(sizes), len(drawn), seed)
    shares: NDArray[np.float64] = (times * of_clip).sum(axis=1) / (times @ sizes)
    return shares


def _correlation(
    drawn_shares: Sequence[NDArray[np.float64]], sides: Sequence[PooledShare],
) -> float:
    """Correlation of the errors of two shares: from misjudged classes, filmed alike."""
    covariance = float(np.cov(drawn_shares[0], drawn_shares[1])[0, 1])
    variances = [shares.var() + (shares * (1 - shares)).mean() / side.effective
                 for shares, side in zip(drawn_shares, sides, strict=True)]
    product = float(np.sqrt(variances[0] * variances[1]))
    return float(np.clip(covariance / product, -1.0, 1.0)) if product > 0 else 0.0


def _more_needed(
    before: Pool, after: Pool, sides: Sequence[PooledShare], interval: tuple[float, float],
    alike: Clustering,
) -> int | None:
    """Further ready positions in each set that would tell; None for more than `_MOST_MORE`.

    They are taken to come in clips as long as these and to be as doubtful. What is to be told is
    the change seen, or one of `WORTH_TELLING` where less was seen.
    """
    first, second = (side.share or 0.0 for side in sides)
    clips = [side.assessed_clips() for side in (before, after)]
    sizes = [max(round(len(old) / len(set(old.tolist()))), 1) for old in clips]

    def interval_with(more: int, shares: tuple[float, float]) -> tuple[float, float]:
        ends = []
        for share, old, size in zip(shares, clips, sizes, strict=True):
            added = np.arange(more) // size + int(old.max()) + 1
            effective = effective_number(np.concatenate([old, added]), alike)
            ends.append(wilson_interval(share * effective, effective))
        return newcombe_interval(shares[1], ends[1], shares[0], ends[0])

    certain = interval_with(0, (first, second))
    doubt = max((interval[1] - interval[0]) / (certain[1] - certain[0]), 1.0)
    if abs(second - first) < WORTH_TELLING:
        way = 1.0 if second >= first else -1.0
        middle = float(np.clip((first + second) / 2, WORTH_TELLING / 2, 1 - WORTH_TELLING / 2))
        first, second = middle - way * WORTH_TELLING / 2, middle + way * WORTH_TELLING / 2
    numbers: list[int] = [*range(5, 100, 5), *range(100, _MOST_MORE + 1, 20)]
    for more in numbers:
        low, high = interval_with(more, (first, second))
        difference = second - first
        if difference - doubt * (difference - low) > 0 or (
                difference + doubt * (high - difference) < 0):
            return more
    return None


def _group(changes: Sequence[Change], alike: Mapping[str, Clustering]) -> Change:
    """The group: each player's own change, averaged, so that who was filmed more often on which
    side cannot pass for a change.
    """
    before, after = (_together([getattr(c, side) for c in changes]) for side in
                     ("before", "after"))
    classes = {name: _group_share(changes, name, before, after, alike[name])
               for name in CLASSES}
    measures = {name: _group_measure(changes, name, before, after, alike[name])
                for name in MEASURES}
    unlike = any(w.code.startswith("filming") for c in changes for w in c.warnings)
    warnings = (Notice("filming", "Some players were filmed differently before and after; their "
                       "own parts say how."),) if unlike else ()
    statement = _statement(classes["over_side_on"], measures, unlike, players=len(changes))
    return Change(f"{len(changes)} players", before, after, classes, measures, statement,
                  warnings)


def _together(pools: Sequence[Pool]) -> Pool:
    """Several players' pools as one; no two players share a clip number or an error."""
    offsets = np.cumsum([0, *(len(p.results) for p in pools)])
    return Pool(
        tuple(q for p in pools for q in p.positions),
        np.concatenate([p.clips + o for p, o in zip(pools, offsets[:-1], strict=True)]),
        tuple((f"{number} {view}", source) for number, p in enumerate(pools)
              for view, source in p.error_groups),
        tuple(f for p in pools for f in p.filmings), tuple(r for p in pools for r in p.results))


def _group_share(
    changes: Sequence[Change], name: str, before: Pool, after: Pool, alike: Clustering,
) -> ShareChange:
    drawn = drawn_members([before, after], name)
    first, second = (pooled_share(side, name, alike, members)
                     for side, members in zip((before, after), drawn, strict=True))
    told = [c.classes[name] for c in changes if c.classes[name].difference is not None]
    if not told:
        return ShareChange(first, second, None, (-1.0, 1.0), "too_few", None, "score")
    weights = mantel_haenszel_weights(*(
        np.array([getattr(t, side).assessed for t in told], float)
        for side in ("before", "after")))
    differences = np.array([t.difference for t in told])
    difference, method = float(weights @ differences), "score"
    if len(told) >= ENOUGH_CLIPS:
        method = "bootstrap"
        times = resample(len(told), len(drawn[0]), 0) * weights
        interval = bootstrap_interval(times @ differences / times.sum(axis=1), len(told))
    else:
        interval = summed_interval(differences, np.array([t.interval for t in told]), weights)
    interval = max(interval[0], -1.0), min(interval[1], 1.0)
    tables = np.array([[[side.effective * (side.share or 0.0),
                         side.effective * (1 - (side.share or 0.0))]
                        for side in (t.before, t.after)] for t in told])
    verdict = _verdict(interval)
    return ShareChange(first, second, difference, interval, verdict, None, method,
                       cochran_mantel_haenszel(tables))


def _group_measure(
    changes: Sequence[Change], name: str, before: Pool, after: Pool, alike: Clustering,
) -> MeasureChange:
    first, second = (pooled_mean(side, name, alike) for side in (before, after))
    told = [c.measures[name] for c in changes if c.measures[name].difference is not None]
    if not told:
        return MeasureChange(first, second, None, (-180.0, 180.0))
    weights = mantel_haenszel_weights(*(
        np.array([getattr(t, side).positions for t in told], float)
        for side in ("before", "after")))
    differences = np.array([t.difference for t in told])
    if len(told) >= ENOUGH_CLIPS:
        times = resample(len(told), 4000, 0) * weights
        interval = bootstrap_interval(times @ differences / times.sum(axis=1), len(told))
    else:
        interval = summed_interval(differences, np.array([t.interval for t in told]), weights)
    return MeasureChange(first, second, float(weights @ differences), (
        max(interval[0], -180.0), min(interval[1], 180.0)))


def _distinct(
    results: Sequence[Result], when: str, warnings: list[Notice],
) -> list[Result]:
    """Each clip once."""
    once = list({r.clip.sha256: r for r in results}.values())
    if len(once) < len(results):
        warnings.append(Notice("same_clip",
            f"{len(results) - len(once)} of the clips {when} are the same recording as another "
            "and were counted once."))
    return once


def _by_player(
    results: Sequence[Result], wanted: str | None,
) -> dict[str, list[tuple[Result, PlayerResult]]]:
    """Results by name, or by letter where a player has none."""
    by_player: dict[str, list[tuple[Result, PlayerResult]]] = {}
    for result in results:
        for player in result.players:
            name = player.name or player.player
            if wanted is None or wanted in (player.name, player.player):
                by_player.setdefault(wanted or name, []).append((result, player))
    return by_player


def _match_nameless(
    sets: Sequence[dict[str, list[tuple[Result, PlayerResult]]]], warnings: list[Notice],
) -> None:
    """Take two sets of one player each for the same player where one set has no name."""
    if len(sets[0]) != 1 or len(sets[1]) != 1 or set(sets[0]) == set(sets[1]):
        return
    (first,), (second,) = sets
    named = [[bool(p.name) for _, p in one[name]]
             for one, name in zip(sets, (first, second), strict=True)]
    if all(map(any, named)):
        return
    name, nameless = (first, 1) if any(named[0]) else (second, 0)
    sets[nameless][name] = sets[nameless].pop(second if nameless else first)
    warnings.append(Notice("nameless",
        f"One set carries no name; its player is taken to be {name}."))


def _nobody_in_both(sets: Sequence[Mapping[str, object]], player: str | None) -> str:
    if not sets[0] or not sets[1]:
        when = "before" if not sets[0] else "after"
        whom = f"the player {player}" if player else "a player"
        return (f"None of the clips {when} shows {whom}, so there is nothing to compare. Give "
                "results in which the player was found.")
    return (f"No player is in both sets: before, {', '.join(sets[0])}; after, "
            f"{', '.join(sets[1])}. Give results of the same player or players.")


def _filming_warnings(before: Pool, after: Pool) -> list[Notice]:
    """Name what differs in filming between the two sets."""
    warnings = []
    views = [sorted({f.view for f in side.filmings}) for side in (before, after)]
    if views[0] != views[1]:
        warnings.append(Notice("filming_view",
            f"Filmed from {_listed(views[0])} before and from {_listed(views[1])} after. The "
            "pose model errs differently from view to view; the intervals allow for that, and "
            "the same view on both days would make them narrower."))
    heights = [_middle_height(side.filmings) for side in (before, after)]
    if abs(heights[0] - heights[1]) > _SAME_HEIGHT_M:
        warnings.append(Notice("filming_height",
            f"The phone stood {heights[0]:.1f} m high before and {heights[1]:.1f} m after. Put it "
            "at the same height to compare."))
    sources = [sorted({r.court.source for r in side.results}) for side in (before, after)]
    if sources[0] != sources[1]:
        warnings.append(Notice("filming_court",
            f"The court was {_listed(sources[0])} before and {_listed(sources[1])} after. "
            "Measure both sets in the same way to compare."))
    return warnings


def _middle_height(filmings: Sequence[Filming]) -> float:
    known = [f.height_m for f in filmings if np.isfinite(f.height_m)]
    return float(np.median(known)) if known else float("nan")


def _listed(words: Sequence[str]) -> str:
    return " and ".join(", ".join(words).rsplit(", ", 1))


def _statement(
    over: ShareChange, measures: Mapping[str, MeasureChange], filmed_differently: bool,
    one_clip: bool = False, players: int = 1,
) -> str:
    """The plain sentences; they never claim more than the intervals."""
    before, after = over.before, over.after
    if before.share is None or after.share is None:
        when = " and ".join(w for w, side in (("before", before), ("after", after))
                            if side.share is None)
        return (f"Too few ready positions to tell: none could be assessed {when}.")
    counts = (f"{before.count} of {before.assessed} assessed ready positions were over-side-on "
              f"before, {after.count} of {after.assessed} after")
    if players > 1:
        counts = f"Over {players} players, {counts}"
    low, high = (100 * end for end in over.interval)
    average = " on the average player" if players > 1 else ""
    if over.verdict in ("up", "down"):
        least, most = sorted((abs(low), abs(high)))
        word = "rose" if over.verdict == "up" else "fell"
        by = (f"by about {most:.0f} points" if round(least) == round(most)
              else f"by {max(least, 0.5):.0f} to {most:.0f} points")
        sentences = [f"{counts}: the share of over-side-on {word}{average} {by} "
                     "(95 % interval)."]
        if filmed_differently:
            sentences.append("The two sets were filmed differently, which may be part of it.")
        if one_clip:
            sentences.append("With a single clip in a set this may be that day only: too few "
                             "clips to tell how much days differ.")
    elif over.verdict == "steady":
        sentences = [f"{counts}: no change was seen, and one of "
                     f"{100 * WORTH_TELLING:.0f} points or more is ruled out "
                     f"({_points(low)} to {_points(high)} points)."]
    else:
        sentences = [f"{counts}: too few ready positions to tell. The share may have changed by "
                     f"anything from {_points(low)} to {_points(high)} points."]
        seen = abs(over.difference or 0.0)
        of_size = ("of the size seen" if seen >= WORTH_TELLING
                   else f"of {100 * WORTH_TELLING:.0f} points")
        if over.more_needed is not None:
            sentences.append(f"About {over.more_needed} more in each set would tell a change "
                             f"{of_size}.")
        elif players > 1:
            sentences.append("More players or more clips of each would tell.")
        else:
            sentences.append(f"More than {_MOST_MORE} more in each set would be needed to tell "
                             f"a change {of_size}.")
    for name, change in measures.items():
        if change.difference is not None and not change.interval[0] <= 0 <= change.interval[1]:
            least, most = sorted(abs(end) for end in change.interval)
            way = "forward" if change.difference > 0 else "back"
            sentences.append(f"The racket {_PARTS[name]} came {max(least, 0.5):.0f} to "
                             f"{most:.0f} degrees further {way} on average.")
    return " ".join(sentences)


def _points(value: float) -> str:
    """A signed whole number with a true minus sign."""
    return f"{value + 0.0:+.0f}".replace("-", "−").replace("+0", "0").replace("−0", "0")


