"""The command line: parses, calls the library, prints. Exit codes: README."""

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from stance.errors import NothingToAssess, StanceError

if TYPE_CHECKING:
    from rich.progress import TaskID

    from stance.analysis import Progress
    from stance.result import PlayerResult, ReadyPosition, Result

app = typer.Typer(
    no_args_is_help=True, add_completion=False, pretty_exceptions_enable=False,
    help="Measure how a badminton defender waits for the smash, from a clip filmed with a phone.")

INTERRUPTED = 130


@app.callback()
def _commands() -> None:
    """Keep `analyse` a command of its own while it is the only one."""


@app.command()
def analyse(
    clip: Annotated[Path, typer.Argument(
        help="The clip: any phone video of a defender, filmed with the phone standing still.")],
    court: Annotated[Path | None, typer.Option(
        help="Court file with the marked floor points of this camera position. Without it the "
             "court is searched in the picture; where it is not found, the camera is assumed and "
             "the angles are less sure.")] = None,
    hand: Annotated[Literal["right", "left"] | None, typer.Option(
        help="The player's racket hand. Without it the hand is seen from the clip.")] = None,
    out: Annotated[Path | None, typer.Option(
        help="Folder for the report. Default: <clip name>_stance in the current folder.")] = None,
    overlay: Annotated[bool, typer.Option(
        help="Also write the clip with the measures drawn on it (overlay.mp4).")] = True,
    as_json: Annotated[bool, typer.Option(
        "--json", help="Print the result as JSON and nothing else, for other programs.")] = False,
) -> None:
    """Measure the ready positions in a clip and write a report.

    Writes report.html (open it in a browser), positions.csv (a row per ready position, for a
    spreadsheet), result.json (for programs) and overlay.mp4 into the output folder.

    Exit codes: 0 done; 2 wrong use of the command; 3 the clip or court file can't be read or is
    not what it says it is, or the folder can't be written; 4 read, but nothing to assess (the
    result is written and says why).
    """
    folder = out or Path(f"{clip.stem}_stance")
    with _sentences(), _progress() as progress:
        from stance.analysis import analyse as analyse_clip
        from stance.analysis import write_all
        from stance.result import check_folder

        check_folder(folder)
        analysis = analyse_clip(clip, court, hand, progress=progress)
        write_all(analysis, clip, folder, overlay, progress)
    _print_result(analysis.result, folder, as_json)
    if not any(player.ready_positions for player in analysis.result.players):
        raise typer.Exit(NothingToAssess.exit_code)


@contextmanager
def _sentences() -> Iterator[None]:
    """Turn errors into a sentence on stderr and an exit code."""
    try:
        yield
    except StanceError as error:
        typer.echo(str(error), err=True)
        raise typer.Exit(error.exit_code) from error
    except KeyboardInterrupt as error:
        typer.echo("Stopped. What was in the output folder before is unchanged.", err=True)
        raise typer.Exit(INTERRUPTED) from error
    except ImportError as error:
        if "libGL" not in str(error) and "libgthread" not in str(error):
            raise
        typer.echo(
            "A system library that OpenCV needs is missing. On Debian and Ubuntu: "
            "sudo apt-get install libgl1 libglib2.0-0", err=True)
        raise typer.Exit(StanceError.exit_code) from error


@contextmanager
def _progress() -> Iterator["Progress"]:
    """Show a progress bar with the time left on stderr, when that is a terminal."""
    from rich.console import Console
    from rich.progress import BarColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bars

    console = Console(file=sys.stderr)
    columns = (TextColumn("{task.description:<26}"), BarColumn(),
               TextColumn("{task.percentage:>3.0f} %"), TimeRemainingColumn(), TextColumn("left"))
    with Bars(*columns, console=console, disable=not console.is_terminal) as bars:
        tasks: dict[str, TaskID] = {}

        def report(stage: str, done: int, total: int) -> None:
            if stage not in tasks:
                tasks[stage] = bars.add_task(stage, total=total)
            bars.update(tasks[stage], completed=done, total=total)

        yield report


def _print_result(result: "Result", folder: Path, as_json: bool) -> None:
    """Print the result as a table for a coach, or as JSON for a program."""
    from stance.result import to_json

    for notice in result.warnings:
        typer.echo(f"Note: {notice.text}", err=True)
    if as_json:
        typer.echo(json.dumps(to_json(result), ensure_ascii=False, allow_nan=False))
        return
    for player in result.players:
        _print_player(player)
    typer.echo(result.statement)
    typer.echo(f"Report: {folder / 'report.html'}")


def _print_player(player: "PlayerResult") -> None:
    """Print one player's ready positions and shares."""
    from rich.console import Console
    from rich.table import Table

    from stance.result import CLASS_NAMES

    table = Table(title=f"Player {player.player}: {player.hand}-hander, {player.half} half",
                  title_justify="left")
    for heading in ("", "from", "to", "lead angle", "hip yaw", "class", "how sure"):
        table.add_column(heading, justify="left" if heading == "class" else "right")
    for number, position in enumerate(player.ready_positions, 1):
        table.add_row(str(number), *_row(position))
    console = Console(highlight=False)
    console.print(table)
    for name, share in player.shares.items():
        if share.share is not None:
            low, high = share.interval
            console.print(f"{CLASS_NAMES[name]}: {share.count} of {player.assessed}, "
                          f"{share.share:.0%} (95 % interval {low:.0%} to {high:.0%})")


def _row(position: "ReadyPosition") -> tuple[str, ...]:
    """Return the cells of one ready position."""
    from stance.result import CLASS_NAMES

    return (
        f"{position.start_s:.2f} s", f"{position.end_s:.2f} s",
        f"{position.lead_angle_deg:+.0f} ± {position.lead_angle_se_deg:.0f}°",
        f"{position.hip_yaw_deg:+.0f} ± {position.hip_yaw_se_deg:.0f}°",
        "; ".join((CLASS_NAMES[position.stance_class], *position.remarks)),
        f"{max(position.probabilities.values()):.0%}",
    )
