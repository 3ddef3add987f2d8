"""From a roster to what the screening found."""

from stance.academy.batch import analyse_jobs
from stance.academy.labelling import label_results
from stance.academy.model import Screening
from stance.academy.result_store import Store
from stance.academy.roster import Roster
from stance.academy.screen import screen
from stance.academy.workers import EACH_CORE, Workers
from stance.results.model import Notice
from stance.runtime.progress import Progress, no_progress


def screen_roster(
    roster: Roster,
    store: Store,
    workers: Workers = EACH_CORE,
    progress: Progress = no_progress,
) -> Screening:
    """Analyse the clips of a roster that are not stored yet, and screen all its players.

    Parameters
    ----------
    roster
        Roster
    store
        where results are stored, with the roster's names, dates and sessions in them
    workers
        who does the work
    progress
        called with a stage, jobs done and jobs in all

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
    return screen(roster.rows, outcomes, labelled.results, notices)


def _note_unknown_columns(roster: Roster) -> list[Notice]:
    if not roster.unknown_columns:
        return []
    return [
        Notice(
            "unknown_columns",
            f"The roster's columns {', '.join(roster.unknown_columns)} mean nothing here and were "
            "left out.",
        )
    ]
