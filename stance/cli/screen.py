"""The command `stance screen`."""

import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from stance.cli.console import print_notices, progress_bars, say, sentences
from stance.errors import NothingToAssess
from stance.runtime.language import format_number, ngettext
from stance.runtime.language import gettext as _

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
            metavar="FOLDER",
            help=_(
                "Folder for the reports. Default: <roster name>_screening in the current folder."
            ),
        ),
    ] = None
    workers: Annotated[
        int | None,
        typer.Option(
            min=1, metavar="N", help=_("Processes on this machine. Default: one for each core.")
        ),
    ] = None
    scheduler: Annotated[
        str | None,
        typer.Option(
            metavar="ADDRESS",
            help=_(
                "Address of a Dask scheduler whose workers do the work, such as "
                "tcp://10.0.0.5:8786."
            ),
        ),
    ] = None
    blur_faces: Annotated[
        bool,
        typer.Option(help=_("Make all faces unknowable in the reports' pictures.")),
    ] = True
    count_assumed: Annotated[
        bool,
        typer.Option(
            "--count-assumed",
            help=_("Also count clips whose court is not known, so that the camera was assumed."),
        ),
    ] = False
    dry_run: Annotated[
        bool,
        typer.Option(
            "--dry-run", help=_("Only say what would be done and how long it would take.")
        ),
    ] = False


def screen(
    roster: Annotated[Path, typer.Argument(metavar="ROSTER", hidden=True)],
    options: ScreenOptions,
) -> None:
    """Screen an academy: which players stand over-side-on as a habit.

    ROSTER is a CSV table with the columns player and clip and, where known, court, hand, age_group,
    date, session, letter and filmed_from; paths are relative to it, or URLs. Where no court is
    named, CLIP.court.json beside the clip is taken.

    Writes report.html with a page for each player, screening.csv and screening.json. Each clip's
    result is kept as it is done; run the same command again to go on after a stop.

    Exit codes: 0 done, also where some clips could not be used (they are listed); 2 wrong use of
    the command; 3 the roster has mistakes or the folder can't be written; 4 not one clip could be
    used (the reports are written and say why).
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
        from stance.academy.writing import FAMILIES_FOLDER, write_screening

        for place in (None, folder / PLAYERS_FOLDER, folder / FAMILIES_FOLDER):
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
        say(_("Not used: {clip}: {reason}").format(clip=clip.clip, reason=clip.reason), err=True)
    say(describe_screening(screening))
    say(_("Report: {file}").format(file=folder / "report.html"))


def _offer_to_forget(screening: "Screening", store: "Store", folder: Path) -> None:
    """Say how kept results of players who left the roster can be deleted."""
    from stance.academy.forgetting import list_former_players

    used = [clip.key for player in screening.players for clip in player.clips]
    former = list_former_players(store, used, [player.player for player in screening.players])
    if former:
        note = _(
            "Note: Results of players who are no longer on the roster are kept: {players}. To "
            "delete them, for each: stance forget {folder} --player NAME"
        )
        say(note.format(players=", ".join(former), folder=folder), err=True)


def _print_plan(plan: "Plan", workers: "Workers") -> None:
    """Say what a run would do and how long that would take."""
    total = len(plan.stored) + len(plan.to_do)
    heading = ngettext(
        "{total} clip: {kept} kept from earlier, {new} to analyse.",
        "{total} clips: {kept} kept from earlier, {new} to analyse.",
        total,
    )
    say(heading.format(total=total, kept=len(plan.stored), new=len(plan.to_do)))
    for job in plan.to_do:
        say("  " + _("to analyse: {clip}").format(clip=job.clip))
    if not plan.to_do:
        say(_("Only the reports would be written: some seconds."))
        return
    if len(plan.to_do) > plan.uncounted:
        say(_describe_duration(plan, workers))
    if plan.uncounted:
        rest = ngettext(
            "{number} clip could not be counted beforehand (a URL, or not readable), so the time "
            "for that comes on top.",
            "{number} clips could not be counted beforehand (URLs, or not readable), so the time "
            "for them comes on top.",
            plan.uncounted,
        )
        say(rest.format(number=plan.uncounted))


def _describe_duration(plan: "Plan", workers: "Workers") -> str:
    """How long the counted clips would take, and where that figure comes from."""
    if workers.scheduler:
        processes, sentence = 1, _("About {duration}, shared between the scheduler's workers.")
    else:
        processes = min(workers.count_processes(), len(plan.to_do))
        sentence = ngettext(
            "About {duration} with {number} worker.",
            "About {duration} with {number} workers.",
            processes,
        )
    source = (
        _("{frames} frames at {seconds} s each, as the kept clips took.")
        if plan.measured
        else _(
            "{frames} frames at {seconds} s each, which is assumed; once a clip is kept, ask again "
            "for a better figure."
        )
    )
    duration = _format_duration(plan.estimate_seconds(processes))
    seconds = format_number(plan.seconds_per_frame, 3)
    return " ".join(
        (
            sentence.format(duration=duration, number=processes),
            source.format(frames=plan.frames, seconds=seconds),
        )
    )


def _format_duration(seconds: float) -> str:
    if seconds < 90:
        return _("{number} s").format(number=max(math.ceil(seconds), 1))
    minutes = seconds / 60
    if minutes < 90:
        return _("{number} minutes").format(number=format_number(minutes))
    return _("{number} hours").format(number=format_number(minutes / 60, 1))
