"""The commands on many results: compare, screen, history."""

import json
import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer
from typer.core import TyperCommand

from stance.cli.console import progress_bars, sentences
from stance.errors import InputError

if TYPE_CHECKING:
    from stance.academy.batch import Plan
    from stance.comparison.history import Entry
    from stance.results.model import Result
    from stance.runtime.progress import Progress


KEPT = "kept"

Hand = Literal["right", "left"]


class ManyPaths(TyperCommand):
    """A command whose options --before and --after take all paths up to the next option."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Repeat the option before each further path."""
        spread: list[str] = []
        current, taken = None, False
        for argument in args:
            if argument.startswith("-"):
                current = argument if argument in ("--before", "--after") else None
                taken = False
            elif current is not None and taken:
                spread.append(current)
            taken = not argument.startswith("-")
            spread.append(argument)
        parsed: list[str] = super().parse_args(ctx, spread)
        return parsed


def compare(
    before: Annotated[
        list[str] | None,
        typer.Option(
            metavar="PATH...",
            help="Results (result.json or a result folder) or clips from before the block.",
        ),
    ] = None,
    after: Annotated[
        list[str] | None, typer.Option(metavar="PATH...", help="The same from after it.")
    ] = None,
    player: Annotated[
        str | None, typer.Option(help="Name or letter of the only player wanted.")
    ] = None,
    court: Annotated[
        Path | None,
        typer.Option(
            help="Court file for clips that have none of their own; CLIP.court.json beside "
            "CLIP.mp4 is taken where it is there."
        ),
    ] = None,
    hand: Annotated[Hand | None, typer.Option(help="The racket hand in the clips.")] = None,
    history: Annotated[
        Path | None,
        typer.Option(help="Instead of --before and --after: a folder of results to choose from."),
    ] = None,
    split: Annotated[
        str | None,
        typer.Option(
            help="With --history: the date from which results count as after (2026-03-14)."
        ),
    ] = None,
    sessions: Annotated[
        tuple[str, str] | None,
        typer.Option(help="With --history: the session before and the session after."),
    ] = None,
    out: Annotated[Path, typer.Option(help="Folder for the comparison.")] = Path("comparison"),
) -> None:
    """Compare a player's or a group's stances before and after a training block.

    Writes comparison.json and report.html into the output folder; results of clips are kept there
    too. Exit codes: 0 done; 2 wrong use of the command; 3 a file can't be read or is not what it
    says it is, or the sets can't be compared; 4 nothing could be assessed (the comparison is
    written and says so).
    """
    with sentences(), progress_bars() as progress:
        sets = _chosen_sets(before, after, history, split, sessions, player)
        from stance.comparison.compare import compare as compare_results
        from stance.comparison.page import write_comparison
        from stance.results.files import check_folder

        check_folder(out)
        if sets is None:
            sets = _read_sets(before or [], after or [], court, hand, out, progress)
        comparison = compare_results(*sets, player=player)
        write_comparison(comparison, out)
        for notice in (*comparison.warnings, *comparison.whole.warnings):
            typer.echo(f"Note: {notice.text}", err=True)
        typer.echo(comparison.whole.statement)
        typer.echo(f"Report: {out / 'report.html'}")
        share = comparison.whole.classes["over_side_on"]
        if share.before.share is None or share.after.share is None:
            raise typer.Exit(4)


def screen(
    roster: Annotated[
        Path,
        typer.Argument(
            help="CSV table with the columns player and clip and, where known, court, hand, "
            "age_group, date, session and letter; paths are relative to it, or URLs."
        ),
    ],
    out: Annotated[
        Path | None,
        typer.Option(
            help="Folder for the reports. Default: <roster name>_screening in the current folder."
        ),
    ] = None,
    workers: Annotated[
        int | None,
        typer.Option(min=1, help="Processes on this machine. Default: one for each core."),
    ] = None,
    scheduler: Annotated[
        str | None,
        typer.Option(
            help="Address of a Dask scheduler whose workers do the work, such as "
            "tcp://10.0.0.5:8786."
        ),
    ] = None,
    dry_run: Annotated[
        bool,
        typer.Option("--dry-run", help="Only say what would be done and how long it would take."),
    ] = False,
) -> None:
    """Screen an academy: which players wait over-side-on as a habit.

    Writes report.html with a page for each player, screening.csv and screening.json. Each clip's
    result is kept as it is done; run the same command again to go on after a stop. Exit codes: 0
    done, also where some clips could not be used (they are listed); 2 wrong use of the command;
    3 the roster has mistakes or the folder can't be written; 4 not one clip could be used (the
    reports are written and say why).
    """
    folder = out or Path(f"{roster.stem}_screening")
    with sentences(), progress_bars() as progress:
        from stance.academy.batch import plan, run
        from stance.academy.result_store import Store
        from stance.academy.roster import read_roster
        from stance.results.files import check_folder

        rows, unknown = read_roster(roster)
        check_folder(folder)
        jobs = [row.job for row in rows]
        store = Store(folder / KEPT)
        if dry_run:
            _print_plan(plan(jobs, store), workers, scheduler)
            return
        from stance.academy.page import statement, write_screening
        from stance.academy.screen import labelled_results
        from stance.academy.screen import screen as screen_players
        from stance.results.model import Notice

        outcomes = run(jobs, store, workers, scheduler, progress)
        results, warnings = labelled_results(rows, outcomes)
        for key, result in results.items():
            store.label(key, result)
        if unknown:
            warnings.insert(
                0,
                Notice(
                    "unknown_columns",
                    "The roster's columns "
                    f"{', '.join(unknown)} mean nothing here and were left "
                    "out.",
                ),
            )
        screening = screen_players(rows, outcomes, results, warnings)
        write_screening(screening, folder)
    for notice in screening.warnings:
        typer.echo(f"Note: {notice.text}", err=True)
    for failed in screening.failed:
        typer.echo(f"Not used: {failed.clip}: {failed.reason}", err=True)
    typer.echo(statement(screening))
    typer.echo(f"Report: {folder / 'report.html'}")
    if not any(player.clips for player in screening.players):
        raise typer.Exit(4)


def history(
    folder: Annotated[Path, typer.Argument(help="Folder with results in it or below it.")],
    player: Annotated[str | None, typer.Option(help="Only this player.")] = None,
    since: Annotated[str | None, typer.Option(help="Only from this date on.")] = None,
    until: Annotated[str | None, typer.Option(help="Only up to this date.")] = None,
    session: Annotated[str | None, typer.Option(help="Only this session.")] = None,
    view: Annotated[
        Literal["behind", "corner", "side", "front", "unknown"] | None,
        typer.Option(help="Only filmed from there."),
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print JSON and nothing else, for other programs.")
    ] = False,
) -> None:
    """List earlier results by player, date, session and how they were filmed.

    Exit codes: 0 done; 2 wrong use of the command; 3 there is no such folder; 4 nothing there.
    """
    with sentences():
        from stance.comparison.history import Choice, entries

        choice = Choice(player, checked_date(since), checked_date(until), session, view)
        found = entries(folder, choice)
    if as_json:
        typer.echo(json.dumps([vars(entry) for entry in found], ensure_ascii=False))
    elif found:
        _print_entries(found)
    if not found:
        typer.echo(f"No result in {folder} fits.", err=True)
        raise typer.Exit(4)


def add_commands(app: typer.Typer) -> None:
    """Add the commands to the program."""
    app.command(cls=ManyPaths)(compare)
    app.command()(screen)
    app.command()(history)


def _chosen_sets(
    before: Sequence[str] | None,
    after: Sequence[str] | None,
    history: Path | None,
    split: str | None,
    sessions: tuple[str, str] | None,
    player: str | None,
) -> tuple[list["Result"], list["Result"]] | None:
    """The two sets from a history; None where paths are given instead."""
    if history is None:
        if split is not None or sessions is not None:
            raise typer.BadParameter("--split and --sessions need --history.")
        if not before or not after:
            raise typer.BadParameter("Give --before and --after, or --history.")
        return None
    if before or after:
        raise typer.BadParameter("Give either --before and --after or --history, not both.")
    if (split is None) == (sessions is None):
        raise typer.BadParameter("With --history give either --split or --sessions.")
    from stance.comparison.history import Choice, chosen_results, entries

    if sessions is not None:
        choices = [Choice(player, session=name) for name in sessions]
    else:
        date = checked_date(split)
        days = sorted({e.date for e in entries(history, Choice(player, since="0001-01-01"))})
        earlier = [d for d in days if d < (date or "")]
        choices = [
            Choice(player, since="0001-01-01", until=earlier[-1] if earlier else "0001"),
            Choice(player, since=date),
        ]
    sets = [chosen_results(history, choice) for choice in choices]
    for results, when in zip(sets, ("before", "after"), strict=True):
        if not results:
            raise InputError(
                f"No result in {history} fits the set {when}. See what there is: "
                f"stance history {history}"
            )
    return sets[0], sets[1]


def checked_date(text: str | None) -> str | None:
    """A date as it is compared, year-month-day."""
    if not text:
        return None
    import datetime

    try:
        return datetime.date.fromisoformat(text).isoformat()
    except ValueError:
        raise typer.BadParameter(
            f"{text!r} is no date; write year-month-day, such as 2026-03-14."
        ) from None


def _read_sets(
    before: Sequence[str],
    after: Sequence[str],
    court: Path | None,
    hand: Hand | None,
    out: Path,
    progress: "Progress",
) -> tuple[list["Result"], list["Result"]]:
    """Read results, and analyse clips that are among the paths."""
    from stance.academy.batch import Job, run
    from stance.academy.remote_files import is_url
    from stance.academy.result_store import Store
    from stance.results.json_format import RESULT_FILE, read_result

    jobs: dict[str, Job] = {}
    for path in (*before, *after):
        if is_url(path) or not (Path(path).is_dir() or Path(path).suffix.lower() == ".json"):
            beside = Path(path).with_suffix(".court.json")
            own = str(beside) if not is_url(path) and beside.is_file() else None
            jobs[path] = Job(path, own or (None if court is None else str(court)), hand)
        elif Path(path).is_dir() and not (Path(path) / RESULT_FILE).is_file():
            raise InputError(
                f"The folder {path} holds no {RESULT_FILE}. Name a result folder, a "
                "result file or a clip."
            )
    outcomes = run(list(jobs.values()), Store(out / KEPT), progress=progress)
    reasons = [o.reason for o in outcomes.values() if o.result is None]
    if reasons:
        raise InputError("\n".join(str(reason) for reason in reasons))

    def read(path: str) -> "Result":
        if path not in jobs:
            return read_result(path)
        result = outcomes[jobs[path]].result
        assert result is not None
        return result

    return [read(path) for path in before], [read(path) for path in after]


def _print_plan(plan: "Plan", workers: int | None, scheduler: str | None) -> None:
    """Say what a run would do and how long that would take."""
    import joblib

    from stance.reports.pages import counted

    number = 1 if scheduler else min(workers or joblib.cpu_count(), max(len(plan.to_do), 1))
    total = len(plan.kept) + len(plan.to_do)
    typer.echo(
        f"{counted(total, 'clip')}: {len(plan.kept)} kept from earlier, "
        f"{len(plan.to_do)} to analyse."
    )
    for job in plan.to_do:
        typer.echo(f"  to analyse: {job.clip}")
    if not plan.to_do:
        typer.echo("Only the reports would be written: some seconds.")
        return
    of_known_length = len(plan.to_do) - plan.uncounted
    if of_known_length:
        share = (
            ", shared between the scheduler's workers"
            if scheduler
            else f" with {counted(number, 'worker')}"
        )
        source = (
            "as the kept clips took"
            if plan.measured
            else "assumed; once a clip is kept, ask again for a better figure"
        )
        typer.echo(
            f"About {_duration(plan.seconds(number))}{share} for "
            f"{counted(plan.frames, 'frame')} of {counted(of_known_length, 'clip')} "
            f"({plan.seconds_a_frame:.3f} s a frame, {source})."
        )
    if plan.uncounted:
        typer.echo(
            f"{counted(plan.uncounted, 'clip')} could not be counted beforehand (a URL, "
            "or not readable), so the time for that comes on top."
        )


def _duration(seconds: float) -> str:
    if seconds < 90:
        return f"{max(math.ceil(seconds), 1)} s"
    minutes = seconds / 60
    return f"{minutes:.0f} minutes" if minutes < 90 else f"{minutes / 60:.1f} hours"


def _print_entries(found: Sequence["Entry"]) -> None:
    """Print results as a table."""
    from rich import box
    from rich.console import Console
    from rich.table import Table

    table = Table(box=box.SIMPLE_HEAD, padding=(0, 1, 0, 0), pad_edge=False)
    for heading in ("date", "side-on"):
        table.add_column(heading, no_wrap=True)
    for heading in ("player", "session", "clip", "filmed from", "court"):
        table.add_column(heading, overflow="fold")
    # Names of kept results are long and say nothing; `--json` has them whole.
    table.add_column("folder", no_wrap=True, overflow="ellipsis", max_width=12)
    for e in found:
        height = "" if e.height_m is None else f" {e.height_m:.1f} m"
        table.add_row(
            e.date,
            f"{e.over_side_on} of {e.assessed}",
            e.player,
            e.session,
            e.clip,
            e.view + height,
            e.court,
            str(Path(e.file).parent),
        )
    Console(highlight=False).print(table)
