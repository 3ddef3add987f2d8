"""Two sets of results chosen from a folder of earlier ones."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from stance.comparison.assumed_courts import is_assumed
from stance.comparison.history import Choice, list_entries, read_results
from stance.comparison.season import SeasonClip
from stance.errors import InputError
from stance.results.model import Notice, Result
from stance.runtime.language import gettext as _

# Before all dates: a result without a date is in no span of dates.
_FIRST_DATE = "0001-01-01"


@dataclass(frozen=True)
class ResultSets:
    """Results from before and after a training block, and why others were left out.

    `folders` are those in which they lie, by the checksum of the clip.
    """

    before: list[Result]
    after: list[Result]
    left_out: tuple[str, ...] = ()
    folders: Mapping[str, Path] = field(default_factory=dict)

    def list_notices(self) -> list[Notice]:
        """A notice for each result file that was left out."""
        return [
            Notice("left_out", _("Left out: {reason}").format(reason=reason))
            for reason in self.left_out
        ]


def choose_by_date(history: str | Path, split: str, player: str | None = None) -> ResultSets:
    """Results of dates before a date, and of that date and later ones.

    Parameters
    ----------
    history
        folder of results
    split
        year-month-day
    player
        name of the only player wanted

    Raises
    ------
    InputError
        There is no such folder, or one of the sets is empty.
    """
    dated = list_entries(history, Choice(player, since=_FIRST_DATE)).entries
    earlier = [entry.date for entry in dated if entry.date < split]
    return _read_sets(
        history,
        Choice(player, since=_FIRST_DATE, until=max(earlier, default="0001")),
        Choice(player, since=split),
    )


def choose_by_session(
    history: str | Path, before: str, after: str, player: str | None = None
) -> ResultSets:
    """Results of two sessions; parameters and errors as for `choose_by_date`."""
    return _read_sets(history, Choice(player, session=before), Choice(player, session=after))


@dataclass(frozen=True)
class Season:
    """Clips of a season by the name of the player, in the order of the dates.

    Attributes
    ----------
    players
        none where no result names a player on a known court
    folders
        of the results, by the checksum of the clip
    left_out
        clips without a name, or whose court is not known
    """

    players: Mapping[str, Sequence[SeasonClip]]
    folders: Mapping[str, Path]
    left_out: tuple[str, ...] = ()


def choose_season(history: str | Path, choice: Choice) -> Season:
    """The clips of each player under a folder.

    A player without a name can't be followed, and where the court is not known shares do not count.

    Parameters
    ----------
    history
        folder of results
    choice
        which are wanted

    Raises
    ------
    InputError
        There is no such folder.
    """
    results = read_results(history, choice)
    players: dict[str, list[SeasonClip]] = {}
    left_out: dict[str, None] = {}
    for entry in list_entries(history, choice).entries:
        result = results[(Path(history) / entry.file).parent]
        if is_assumed(result) or entry.player == entry.letter:
            left_out[entry.clip] = None
            continue
        player = next(p for p in result.players if p.player == entry.letter)
        players.setdefault(entry.player, []).append(SeasonClip(entry.date, result, player))
    return Season(
        dict(sorted(players.items())),
        {result.clip.sha256: folder for folder, result in results.items()},
        tuple(left_out),
    )


def _read_sets(history: str | Path, before: Choice, after: Choice) -> ResultSets:
    found = [read_results(history, choice) for choice in (before, after)]
    sets = ResultSets(
        list(found[0].values()),
        list(found[1].values()),
        list_entries(history).left_out,
        {r.clip.sha256: folder for side in found for folder, r in side.items()},
    )
    for results, when in ((sets.before, _("before")), (sets.after, _("after"))):
        if not results:
            raise InputError(
                _(
                    "No result in {history} fits the set {when}. See what there is: stance history "
                    "{history}"
                ).format(history=history, when=when)
            )
    return sets
