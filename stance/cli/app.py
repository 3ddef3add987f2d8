"""The command line: parses, calls the library, prints. Exit codes: README."""

import json
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from stance.cli.academy import add_commands, checked_date
from stance.cli.console import progress_bars, sentences
from stance.errors import NothingToAssess

if TYPE_CHECKING:
    from stance.results.model import PlayerResult, ReadyPosition, Result


app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    help="Measure how a badminton defender waits for the smash, from a clip filmed with a phone.",
)


@app.command()
def analyse(
    clip: Annotated[
        Path,
        typer.Argument(
            help="The clip: any phone video of a defender, filmed with the phone standing still."
        ),
    ],
    court: Annotated[
        Path | None,
        typer.Option(
            help="Court file with the marked floor points of this camera position. Without it the "
            "court is searched in the picture; where it is not found, the camera is assumed and "
            "the angles are less sure."
        ),
    ] = None,
    hand: Annotated[
        Literal["right", "left"] | None,
        typer.Option(help="The player's racket hand. Without it the hand is seen from the clip."),
    ] = None,
    name: Annotated[
        list[str] | None,
        typer.Option(
            metavar="[LETTER=]NAME",
            help="The player's name, for comparing and listing later; with two players LETTER=NAME, "
            "such as A=Mia, once for each.",
        ),
    ] = None,
    date: Annotated[str, typer.Option(help="The day of filming, for the same: 2026-03-14.")] = "",
    session: Annotated[str, typer.Option(help="What the session was, for the same.")] = "",
    out: Annotated[
        Path | None,
        typer.Option(
            help="Folder for the report. Default: <clip name>_stance in the current folder."
        ),
    ] = None,
    overlay: Annotated[
        bool, typer.Option(help="Also write the clip with the measures drawn on it (overlay.mp4).")
    ] = True,
    half: Annotated[
        Literal["near", "far", "both"] | None,
        typer.Option(
            help="Which half's players to measure. Default: the near half's or, where nobody is on "
            "it, the far half's."
        ),
    ] = None,
    player: Annotated[
        Literal["A", "B", "C", "D"] | None,
        typer.Option(
            help="Measure this player only. Letters go left to right at the first ready position."
        ),
    ] = None,
    thorough: Annotated[
        bool,
        typer.Option(
            "--thorough", help="Look at every frame with the heavy model; takes many times longer."
        ),
    ] = False,
    show_timings: Annotated[
        bool, typer.Option("--timings", help="Say on stderr where the time went.")
    ] = False,
    as_json: Annotated[
        bool,
        typer.Option(
            "--json", help="Print the result as JSON and nothing else, for other programs."
        ),
    ] = False,
) -> None:
    """Measure the ready positions in a clip and write a report.

    Writes report.html (open it in a browser), positions.csv (a row per ready position, for a
    spreadsheet), result.json (for programs), overlay.mp4 and poses.npz (poses, so that a second
    run on the same clip is quick) into the output folder.

    Exit codes: 0 done; 2 wrong use of the command; 3 the clip or court file can't be read or is
    not what it says it is, or the folder can't be written; 4 read, but nothing to assess (the
    result is written and says why).
    """
    folder = out or Path(f"{clip.stem}_stance")
    with sentences(), progress_bars() as progress:
        names = _names(name or [])
        day = checked_date(date)
        from stance.analysis import analyse as analyse_clip
        from stance.assessment.labels import labelled
        from stance.assessment.options import AnalysisOptions
        from stance.reports.writing import write_analysis
        from stance.results.files import check_folder
        from stance.runtime.progress import Timings
        from stance.watching.effort import QUICK, THOROUGH

        check_folder(folder)
        timings = Timings()
        analysis = analyse_clip(
            clip,
            court,
            AnalysisOptions(
                hand=hand,
                half=half,
                player=player,
                names=names,
                effort=THOROUGH if thorough else QUICK,
                cache_folder=folder,
            ),
            progress,
            timings,
        )
        analysis = replace(analysis, result=labelled(analysis.result, names, day or "", session))
        write_analysis(analysis, clip, folder, overlay, progress, timings)
    if show_timings:
        for stage, seconds in timings.seconds.items():
            typer.echo(f"{stage:>8} {seconds:7.2f} s", err=True)
    _print_result(analysis.result, folder, as_json)
    if not any(player.ready_positions for player in analysis.result.players):
        raise typer.Exit(NothingToAssess.exit_code)


def _names(given: list[str]) -> dict[str, str]:
    """Return names by letter from [LETTER=]NAME; a name without a letter is player A's."""
    names = {}
    for entry in given:
        letter, name = entry.split("=", 1) if "=" in entry else ("A", entry)
        if letter not in tuple("ABCD") or not name.strip():
            raise typer.BadParameter(
                f"{entry!r} is not NAME or LETTER=NAME, such as A=Mia.", param_hint="--name"
            )
        names[letter] = name.strip()
    return names


@app.command()
def court(
    clip: Annotated[Path, typer.Argument(help="The clip whose court is marked.")],
    out: Annotated[
        Path | None,
        typer.Option(
            help="Court file to save; with --check, the picture to write. Default: <clip "
            "name>.court.json beside the clip; <clip name>_court.png in the current folder."
        ),
    ] = None,
    check: Annotated[
        bool,
        typer.Option(
            "--check",
            help="Draw the marked or found court over the clip's picture and print its "
            "error, without marking.",
        ),
    ] = False,
    court_file: Annotated[
        Path | None,
        typer.Option(
            "--court",
            help="Court file to check. Default: <clip name>.court.json beside the clip or, "
            "where there is none, the court found in the picture.",
        ),
    ] = None,
    browser: Annotated[
        bool, typer.Option(help="Open the page in the browser, or only print its address.")
    ] = True,
) -> None:
    """Mark the court in a clip's picture, on a page in the browser.

    The page is served on this computer only. It saves a court file, which `stance analyse` takes
    with --court; the command ends when the page is closed after saving.
    """
    if court_file and not check:
        raise typer.BadParameter("goes with --check only.", param_hint="--court")
    with sentences():
        from stance.marking.task import court_file_beside

        if check:
            beside = court_file_beside(clip)
            _check_court(
                clip,
                court_file or (beside if beside.exists() else None),
                out or Path(f"{clip.stem}_court.png"),
            )
        else:
            _mark_court(clip, out or court_file_beside(clip), browser)


def _mark_court(clip: Path, court_file: Path, browser: bool) -> None:
    """Serve the marking page until the coach is done."""
    import webbrowser

    from stance.marking.server import MarkingServer
    from stance.marking.task import prepare_marking
    from stance.results.files import check_folder

    check_folder(court_file.parent)
    typer.echo("Looking for a picture without people ...", err=True)
    with MarkingServer(prepare_marking(clip, court_file)) as server:
        typer.echo(f"Mark the court in the browser: {server.address}", err=True)
        typer.echo("Ctrl-C ends without saving.", err=True)
        if browser:
            webbrowser.open(server.address)
        server.wait()
    typer.echo(f"Saved: {court_file}")


def _check_court(clip: Path, court_file: Path | None, picture: Path) -> None:
    """Draw a marked or found court over the clip's picture and print its error."""
    from stance.marking.check import draw_court_check

    words = draw_court_check(clip, court_file, picture)
    typer.echo(words)
    typer.echo(f"Picture: {picture}")


def _print_result(result: "Result", folder: Path, as_json: bool) -> None:
    """Print the result as a table for a coach, or as JSON for a program."""
    from stance.results.json_format import to_json

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

    from stance.types import CLASS_NAMES

    table = Table(
        title=f"{player.title}: {player.hand}-hander, {player.half} half", title_justify="left"
    )
    for heading in ("", "from", "to", "lead angle", "hip yaw", "class", "how sure"):
        table.add_column(heading, justify="left" if heading == "class" else "right")
    for number, position in enumerate(player.ready_positions, 1):
        table.add_row(str(number), *_row(position))
    console = Console(highlight=False)
    console.print(table)
    for name, share in player.shares.items():
        if share.share is not None:
            low, high = share.interval
            console.print(
                f"{CLASS_NAMES[name]}: {share.count} of {player.assessed}, "
                f"{share.share:.0%} (95 % interval {low:.0%} to {high:.0%})"
            )


def _row(position: "ReadyPosition") -> tuple[str, ...]:
    """Return the cells of one ready position."""
    from stance.types import CLASS_NAMES

    return (
        f"{position.start_s:.2f} s",
        f"{position.end_s:.2f} s",
        f"{position.lead_angle_deg:+.0f} ± {position.lead_angle_se_deg:.0f}°",
        f"{position.hip_yaw_deg:+.0f} ± {position.hip_yaw_se_deg:.0f}°",
        "; ".join((CLASS_NAMES[position.stance_class], *position.remarks)),
        f"{max(position.probabilities.values()):.0%}",
    )


add_commands(app)
