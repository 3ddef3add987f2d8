"""Names, dates and sessions of the roster put into the results."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from stance.academy.jobs import Job, Outcome
from stance.academy.remote_files import file_name
from stance.academy.roster import Row
from stance.assessment.labels import label_result
from stance.results.model import Notice, Result
from stance.runtime.language import gettext as _


@dataclass(frozen=True)
class LabelledResults:
    """Results by key with the roster's names, dates and sessions, and what to say of them."""

    results: dict[str, Result]
    notices: tuple[Notice, ...]


def label_results(rows: Sequence[Row], outcomes: Mapping[Job, Outcome]) -> LabelledResults:
    """Put the roster's names, dates and sessions into the results.

    Parameters
    ----------
    rows
        the roster
    outcomes
        of its jobs
    """
    results: dict[str, Result] = {}
    notices: list[Notice] = []
    names: dict[str, dict[str, str]] = {}
    for row in rows:
        outcome = outcomes[row.job]
        if outcome.key is None or outcome.result is None:
            continue
        letter = _choose_letter(row, outcome.result)
        names_of_clip = names.setdefault(outcome.key, {})
        if letter:
            names_of_clip[letter] = row.player
        if not row.letter and len(outcome.result.players) > 1:
            notices.append(_note_guess(row, letter, len(outcome.result.players)))
        results[outcome.key] = label_result(outcome.result, names_of_clip, row.date, row.session)
    return LabelledResults(results, tuple(notices))


def _choose_letter(row: Row, result: Result) -> str:
    """Which of a clip's players the row means; empty where it shows none or not that one."""
    letters = [p.player for p in result.players]
    if row.letter:
        return row.letter if row.letter in letters else ""
    return max(result.players, key=lambda p: p.frames_seen).player if letters else ""


def _note_guess(row: Row, letter: str, players: int) -> Notice:
    """What to say where a clip shows several players and the roster does not say which."""
    return Notice(
        "several_players",
        _(
            "line {line}: {clip} shows {players} players, and the roster does not say "
            "which is {player}; player {letter}, who is in view longest, was taken. Add a "
            "column letter that says who is who."
        ).format(
            line=row.line,
            clip=file_name(row.job.clip),
            players=players,
            player=row.player,
            letter=letter,
        ),
    )
