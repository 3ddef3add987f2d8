"""Two sets of results chosen from a folder of earlier ones."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from stance.comparison.history import Choice, list_entries, read_results
from stance.errors import InputError
from stance.results.model import Notice, Result

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
        return [Notice("left_out", f"Left out: {reason}") for reason in self.left_out]


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


def _read_sets(history: str | Path, before: Choice, after: Choice) -> ResultSets:
    found = [read_results(history, choice) for choice in (before, after)]
    sets = ResultSets(
        list(found[0].values()),
        list(found[1].values()),
        list_entries(history).left_out,
        {r.clip.sha256: folder for side in found for folder, r in side.items()},
    )
    for results, when in ((sets.before, "before"), (sets.after, "after")):
        if not results:
            raise InputError(
                f"No result in {history} fits the set {when}. See what there is: "
                f"stance history {history}"
            )
    return sets
