"""The command `stance analyse`."""

import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from stance.cli.console import make_console, print_notices, progress_bars, say, say_json, sentences
from stance.cli.options import FilmedFrom, Hand, check_date
from stance.errors import NothingToAssess

if TYPE_CHECKING:
    from stance.results.model import PlayerResult, ReadyPosition, Result, StrokeFaced


@dataclass(frozen=True)
class AnalyseOptions:
    """The options of the command, in the order in which its help lists them."""

    court: Annotated[
        Path | None,
        typer.Option(
            help="Court file with the marked floor points of this camera position. Without it the "
            "court is searched in the picture; where it is not found, no stance gets a class."
        ),
    ] = None
    hand: Annotated[
        Hand | None,
        typer.Option(help="The player's racket hand. Without it the hand is seen from the clip."),
    ] = None
    name: Annotated[
        list[str] | None,
        typer.Option(
            metavar="[LETTER=]NAME",
            help="The player's name, for comparing and listing later; with two players "
            "LETTER=NAME, such as A=Mia, once for each.",
        ),
    ] = None
    date: Annotated[str, typer.Option(help="The day of filming, for the same: 2026-03-14.")] = ""
    session: Annotated[str, typer.Option(help="What the session was, for the same.")] = ""
    out: Annotated[
        Path | None,
        typer.Option(
            help="Folder for the report. Default: <clip name>_stance in the current folder."
        ),
    ] = None
    overlay: Annotated[
        bool, typer.Option(help="Also write the clip with the measures drawn on it (overlay.mp4).")
    ] = True
    blur_faces: Annotated[
        bool,
        typer.Option(
            "--blur-faces",
            help="Make all faces unknowable in the report's pictures and the overlay; poses are "
            "not kept then, so a second run takes as long.",
        ),
    ] = False
    half: Annotated[
        Literal["near", "far", "both"] | None,
        typer.Option(
            help="Which half's players to measure. Default: the near half's or, where nobody is on "
            "it, the far half's."
        ),
    ] = None
    player: Annotated[
        Literal["A", "B", "C", "D"] | None,
        typer.Option(
            help="Measure this player only. Letters go left to right at the first ready position."
        ),
    ] = None
    filmed_from: Annotated[
        FilmedFrom | None,
        typer.Option(
            help="Where the phone stood, seen from the player who faces the net. Asked only where "
            "the court is not found: then the angles rest on it, and are less sure."
        ),
    ] = None
    thorough: Annotated[
        bool,
        typer.Option(
            "--thorough", help="Look at every frame with the heavy model; takes many times longer."
        ),
    ] = False
    show_timings: Annotated[
        bool, typer.Option("--timings", help="Say on stderr where the time went.")
    ] = False
    as_json: Annotated[
        bool,
        typer.Option(
            "--json", help="Print the result as JSON and nothing else, for other programs."
        ),
    ] = False


def analyse(
    clip: Annotated[
        Path,
        typer.Argument(
            help="The clip: any phone video of a defender, filmed with the phone standing still."
        ),
    ],
    options: AnalyseOptions,
) -> None:
    """Measure the ready positions in a clip and write a report.

    Writes report.html (open it in a browser), positions.csv and strokes.csv (a row per ready
    position and per stroke faced, for a spreadsheet), result.json (for programs), overlay.mp4 and
    poses.npz (poses, so that a second run on the same clip is quick) into the output folder.

    Exit codes: 0 done; 2 wrong use of the command; 3 the clip or court file can't be read or is
    not what it says it is, or the folder can't be written; 4 read, but nothing to assess (the
    result is written and says why).
    """
    folder = options.out or Path(f"{clip.stem}_stance")
    with sentences(), progress_bars() as progress:
        names, day = _read_names(options.name or []), check_date(options.date)
        from stance.analysis import analyse as analyse_clip
        from stance.assessment.labels import label_result
        from stance.assessment.options import AnalysisOptions
        from stance.reports.writing import write_analysis
        from stance.results.files import check_folder
        from stance.runtime.progress import Timings
        from stance.watching.options import QUICK, THOROUGH

        check_folder(folder)
        timings = Timings()
        analysis = analyse_clip(
            clip,
            options.court,
            AnalysisOptions(
                hand=options.hand,
                half=options.half,
                player=options.player,
                names=names,
                effort=THOROUGH if options.thorough else QUICK,
                cache_folder=folder,
                filmed_from=options.filmed_from,
                blur_faces=options.blur_faces,
            ),
            progress,
            timings,
        )
        result = label_result(analysis.result, names, day or "", options.session)
        write_analysis(
            replace(analysis, result=result), clip, folder, options.overlay, progress, timings
        )
    if options.show_timings:
        for stage, seconds in timings.seconds.items():
            say(f"{stage:>8} {seconds:7.2f} s", err=True)
    _print_result(result, folder, options.as_json)
    if not any(p.ready_positions or p.stroke_counts.on_the_move for p in result.players):
        raise typer.Exit(NothingToAssess.exit_code)


def _read_names(entries: list[str]) -> dict[str, str]:
    """Names by letter from [LETTER=]NAME; a name without a letter is player A's."""
    from stance.runtime.plain_text import MOST_LETTERS, clean_name

    names = {}
    for entry in entries:
        letter, name = entry.split("=", 1) if "=" in entry else ("A", entry)
        if letter not in tuple("ABCD") or not name.strip():
            raise typer.BadParameter(
                f"{entry!r} is not NAME or LETTER=NAME, such as A=Mia.", param_hint="--name"
            )
        names[letter] = clean_name(name)
        if len(names[letter]) > MOST_LETTERS:
            raise typer.BadParameter(
                f"The name has more than {MOST_LETTERS} letters; give a shorter one.",
                param_hint="--name",
            )
    return names


def _print_result(result: "Result", folder: Path, as_json: bool) -> None:
    """Print the result as a table for a coach, or as JSON for a program."""
    from stance.results.json_format import to_json

    print_notices(result.warnings)
    if as_json:
        say_json(to_json(result))
        return
    for player in result.players:
        _print_player(player)
    say(result.statement)
    say(f"Report: {folder / 'report.html'}")


def _print_player(player: "PlayerResult") -> None:
    """Print one player's ready positions and shares."""
    from rich.table import Table

    table = Table(
        title=f"{player.title}: {player.hand}-hander, {player.half} half", title_justify="left"
    )
    strokes = player.stroke_of
    when = ("contact", "feet down") if player.strokes_faced else ("from", "to")
    for heading in ("", *when, "lead angle", "hip yaw", "class", "how sure"):
        is_class = heading == "class"
        # The class's longest word stays whole on a narrow terminal.
        table.add_column(
            heading, justify="left" if is_class else "right", min_width=13 if is_class else None
        )
    for number, position in enumerate(player.ready_positions, 1):
        times: tuple[str, ...] = (f"{position.start_s:.2f} s", f"{position.end_s:.2f} s")
        if player.strokes_faced:
            times = _list_times_of_stroke(strokes.get(number - 1), position)
        is_serve = number - 1 in strokes and strokes[number - 1].serve
        table.add_row(str(number), *times, *_list_cells(position, is_serve))
    console = make_console()
    console.print(table)
    for line in (*_describe_strokes(player), *_describe_shares(player)):
        console.print(line)


def _describe_strokes(player: "PlayerResult") -> list[str]:
    """How the strokes faced were met, a line for each way; or that none could be told."""
    from stance.statistics.statement import NO_STROKE_TOLD

    if not player.strokes_faced:
        return [NO_STROKE_TOLD] if player.ready_positions else []
    counts = player.stroke_counts
    lines = [
        f"{words}: {count} of {counts.in_play}"
        for words, count in (
            ("met set", counts.met_set),
            ("met on the move", counts.on_the_move),
            ("not seen well enough", counts.not_seen),
        )
    ]
    return [*lines, f"serves faced, not counted: {counts.serves}"]


def _describe_shares(player: "PlayerResult") -> list[str]:
    """The share of each class and of the remark beside them, a line each."""
    from stance.types import COUNTED_NAMES, LEADING

    lines = []
    for what, share in (*player.shares.items(), (LEADING, player.racket_foot_leading)):
        if share is not None and share.share is not None:
            low, high = share.interval
            lines.append(
                f"{COUNTED_NAMES[what]}: {share.count} of {player.assessed}, "
                f"{share.share:.0%} (95 % interval {low:.0%} to {high:.0%})"
            )
    return lines


def _list_times_of_stroke(
    stroke: "StrokeFaced | None", position: "ReadyPosition"
) -> tuple[str, ...]:
    """The contact, and when both feet were down against it; without a stroke, in the clip."""
    if stroke is None:
        return "", f"at {position.start_s:.2f} s"
    return f"{stroke.time_s:.2f} s", f"{position.start_s - stroke.time_s:+.2f} s"


def _list_cells(position: "ReadyPosition", is_serve: bool) -> tuple[str, ...]:
    """The cells of one ready position but for its times."""
    remarks = (*position.remarks, "serve") if is_serve else position.remarks
    surest = max(position.probabilities.values())
    return (
        _show_angle(position.lead_angle_deg, position.lead_angle_se_deg),
        _show_angle(position.hip_yaw_deg, position.hip_yaw_se_deg),
        "; ".join((position.class_name, *remarks)),
        f"{surest:.0%}" if math.isfinite(surest) else "",
    )


def _show_angle(angle_deg: float, se_deg: float) -> str:
    """An angle with its standard error; where it is not known, that."""
    return f"{angle_deg:+.0f} ± {se_deg:.0f}°" if math.isfinite(angle_deg) else "not known"
