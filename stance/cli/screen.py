"""The command `stance screen`."""

import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from stance.cli.console import print_notices, progress_bars, say, sentences
from stance.errors import NothingToAssess

if TYPE_CHECKING:
    from stance.academy.batch import Plan
    from stance.academy.model import Screening
    from stance.academy.result_store import Store
    from stance.academy.workers import Workers


@dataclass(frozen=True)
class ScreenOptions:
    """The options of the command, in the order in which its help lists them."""

    out: Annotated[
        Path | None,
        typer.Option(
            help="Folder for the reports. Default: <roster name>_screening in the current folder."
        ),
    ] = None
    workers: Annotated[
        int | None,
        typer.Option(min=1, help="Processes on this machine. Default: one for each core."),
    ] = None
    scheduler: Annotated[
        str | None,
        typer.Option(
            help="Address of a Dask scheduler whose workers do the work, such as "
            "tcp://10.0.0.5:8786."
        ),
    ] = None
    blur_faces: Annotated[
        bool,
        typer.Option(help="Make all faces unknowable in the reports' pictures."),
    ] = True
    count_assumed: Annotated[
        bool,
        typer.Option(
            "--count-assumed",
            help="Also count clips whose court is not known, so that the camera was assumed.",
        ),
    ] = False
    dry_run: Annotated[
        bool,
        typer.Option("--dry-run", help="Only say what would be done and how long it would take."),
    ] = False


def screen(
    roster: Annotated[
        Path,
        typer.Argument(
            help="CSV table with the columns player and clip and, where known, court, hand, "
            "age_group, date, session, letter and filmed_from; paths are relative to it, or URLs."
        ),
    ],
    options: ScreenOptions,
) -> None:
    """Screen an academy: which players stand over-side-on as a habit.

    Writes report.html with a page for each player, screening.csv and screening.json. Each clip's
    result is kept as it is done; run the same command again to go on after a stop. Exit codes: 0
    done, also where some clips could not be used (they are listed); 2 wrong use of the command;
    3 the roster has mistakes or the folder can't be written; 4 not one clip could be used (the
    reports are written and say why).
    """
    folder = options.out or Path(f"{roster.stem}_screening")
    with sentences(), progress_bars() as progress:
        from stance.academy.batch import plan_jobs
        from stance.academy.result_store import STORE_FOLDER, Store
        from stance.academy.roster import read_roster
        from stance.academy.workers import Workers
        from stance.results.files import check_folder
        from stance.results.temporary import sweep_leftovers

        listed = read_roster(roster, options.blur_faces)
        check_folder(folder)
        store, crew = Store(folder / STORE_FOLDER), Workers(options.workers, options.scheduler)
        if options.dry_run:
            _print_plan(plan_jobs([row.job for row in listed.rows], store), crew)
            return
        from stance.academy.page import PLAYERS_FOLDER
        from stance.academy.screen import screen_roster
        from stance.academy.writing import write_screening

        for place in (None, folder / PLAYERS_FOLDER):
            sweep_leftovers(place)
        screening = screen_roster(listed, store, crew, progress, options.count_assumed)
        write_screening(screening, folder)
    _print_screening(screening, folder)
    _offer_to_forget(screening, store, folder)
    if not any(player.clips for player in screening.players):
        raise typer.Exit(NothingToAssess.exit_code)


def _print_screening(screening: "Screening", folder: Path) -> None:
    """Print what the screening found, and on stderr what the coach must know."""
    from stance.academy.statement import describe_screening

    print_notices(screening.warnings)
    for clip in screening.unused:
        say(f"Not used: {clip.clip}: {clip.reason}", err=True)
    say(describe_screening(screening))
    say(f"Report: {folder / 'report.html'}")


def _offer_to_forget(screening: "Screening", store: "Store", folder: Path) -> None:
    """Say how kept results of players who left the roster can be deleted."""
    from stance.academy.forgetting import list_former_players

    used = [clip.key for player in screening.players for clip in player.clips]
    former = list_former_players(store, used, [player.player for player in screening.players])
    if former:
        say(
            f"Note: Results of players who are no longer on the roster are kept: "
            f"{', '.join(former)}. To delete them, for each: stance forget {folder} --player NAME",
            err=True,
        )


def _print_plan(plan: "Plan", workers: "Workers") -> None:
    """Say what a run would do and how long that would take."""
    from stance.reports.pages import counted

    total = len(plan.stored) + len(plan.to_do)
    say(
        f"{counted(total, 'clip')}: {len(plan.stored)} kept from earlier, "
        f"{len(plan.to_do)} to analyse."
    )
    for job in plan.to_do:
        say(f"  to analyse: {job.clip}")
    if not plan.to_do:
        say("Only the reports would be written: some seconds.")
        return
    if len(plan.to_do) > plan.uncounted:
        say(_describe_duration(plan, workers))
    if plan.uncounted:
        say(
            f"{counted(plan.uncounted, 'clip')} could not be counted beforehand (a URL, "
            "or not readable), so the time for that comes on top."
        )


def _describe_duration(plan: "Plan", workers: "Workers") -> str:
    """How long the counted clips would take, and where that figure comes from."""
    from stance.reports.pages import counted

    if workers.scheduler:
        processes, shared = 1, ", shared between the scheduler's workers"
    else:
        processes = min(workers.count_processes(), len(plan.to_do))
        shared = f" with {counted(processes, 'worker')}"
    source = (
        "as the kept clips took"
        if plan.measured
        else "assumed; once a clip is kept, ask again for a better figure"
    )
    return (
        f"About {_format_duration(plan.estimate_seconds(processes))}{shared} for "
        f"{counted(plan.frames, 'frame')} of {counted(len(plan.to_do) - plan.uncounted, 'clip')} "
        f"({plan.seconds_per_frame:.3f} s a frame, {source})."
    )


def _format_duration(seconds: float) -> str:
    if seconds < 90:
        return f"{max(math.ceil(seconds), 1)} s"
    minutes = seconds / 60
    return f"{minutes:.0f} minutes" if minutes < 90 else f"{minutes / 60:.1f} hours"
