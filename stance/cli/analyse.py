"""The command `stance analyse`."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from stance.cli.clip_tables import print_result
from stance.cli.console import find_court_file, progress_bars, put_in_words, say, sentences
from stance.cli.options import FilmedFrom, Hand, check_date
from stance.errors import InputError, NothingToAssess, StanceError
from stance.runtime.language import gettext as _

if TYPE_CHECKING:
    from stance.results.model import Result
    from stance.runtime.progress import Progress, Timings

# Exit codes, the gravest last.
_GRAVITY = (0, NothingToAssess.exit_code, StanceError.exit_code, InputError.exit_code)


@dataclass(frozen=True)
class AnalyseOptions:
    """The options of the command, in the order in which its help lists them."""

    court: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help=_(
                "Court file with the marked floor points of this camera position. Default: <clip "
                "name>.court.json beside the clip or, where there is none, the court found in the "
                "picture; where it is not found, no stance gets a class."
            ),
        ),
    ] = None
    hand: Annotated[
        Hand | None,
        typer.Option(
            help=_("The player's racket hand. Without it the hand is seen from the clip.")
        ),
    ] = None
    name: Annotated[
        list[str] | None,
        typer.Option(
            metavar="[LETTER=]NAME",
            help=_(
                "The player's name, for comparing and listing later; with two players "
                "LETTER=NAME, such as A=Mia, once for each."
            ),
        ),
    ] = None
    date: Annotated[
        str, typer.Option(metavar="DATE", help=_("The day of filming, for the same: 2026-03-14."))
    ] = ""
    session: Annotated[
        str, typer.Option(metavar="NAME", help=_("What the session was, for the same."))
    ] = ""
    out: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER",
            help=_(
                "Folder for the report; of several clips, for the folders of their reports. "
                "Default: <clip name>_stance in the current folder."
            ),
        ),
    ] = None
    overlay: Annotated[
        bool,
        typer.Option(help=_("Also write the clip with the measures drawn on it (overlay.mp4).")),
    ] = True
    blur_faces: Annotated[
        bool,
        typer.Option(
            "--blur-faces",
            help=_(
                "Make all faces unknowable in the report's pictures and the overlay; poses are "
                "not kept then, so a second run takes as long."
            ),
        ),
    ] = False
    half: Annotated[
        Literal["near", "far", "both"] | None,
        typer.Option(
            help=_(
                "Which half's players to measure. Default: the near half's or, where nobody is on "
                "it, the far half's."
            )
        ),
    ] = None
    player: Annotated[
        Literal["A", "B", "C", "D"] | None,
        typer.Option(
            help=_(
                "Measure this player only. Letters go left to right at the first ready position."
            )
        ),
    ] = None
    filmed_from: Annotated[
        FilmedFrom | None,
        typer.Option(
            metavar="PLACE",
            help=_(
                "Where the phone stood, seen from the player who faces the net: behind, "
                "rear-left, rear-right, left, right, front-left, front-right or front. Asked only "
                "where the court is not found: then the angles rest on it, and are less sure."
            ),
        ),
    ] = None
    thorough: Annotated[
        bool,
        typer.Option(
            "--thorough",
            help=_("Look at every frame with the heavy model; takes many times longer."),
        ),
    ] = False
    show_timings: Annotated[
        bool, typer.Option("--timings", help=_("Say on stderr where the time went."))
    ] = False
    as_json: Annotated[
        bool,
        typer.Option(
            "--json",
            help=_("Print the result as JSON and nothing else, for other programs; a line a clip."),
        ),
    ] = False


@dataclass(frozen=True)
class _Labels:
    """What the coach calls the players, by letter, and the day of filming."""

    names: dict[str, str]
    day: str


@dataclass(frozen=True)
class _Outcome:
    """What became of a clip: its exit code, and where its report is or why there is none."""

    clip: Path
    exit_code: int
    words: str


def analyse(
    clips: Annotated[
        list[Path],
        typer.Argument(metavar="CLIP", hidden=True),
    ],
    options: AnalyseOptions,
) -> None:
    """Measure a defender's stances in a clip and write a report.

    CLIP is any phone video of a defender, filmed with the phone standing still. Several clips are
    measured one after the other, each into a folder of its own; one that can't be measured does
    not stop the others, and a summary says what became of each.

    Writes report.html (open it in a browser), positions.csv and strokes.csv (a row per ready
    position and per stroke faced, for a spreadsheet), result.json (for programs), overlay.mp4 and
    poses.npz (poses, so that a second run on the same clip is quick) into the output folder.

    Exit codes: 0 done; 2 wrong use of the command; 3 the clip or court file can't be read or is
    not what it says it is, or the folder can't be written; 4 read, but nothing to assess (the
    result is written and says why). With several clips: 3 where one can't be measured, else 4
    where there is nothing to assess in one.
    """
    labels = _Labels(_read_names(options.name or []), check_date(options.date) or "")
    folders = _choose_folders(clips, options.out)
    outcomes = []
    with sentences():
        for number, (clip, folder) in enumerate(folders.items(), 1):
            if len(clips) > 1:
                heading = _("{clip} ({number} of {total})")
                heading = heading.format(clip=clip, number=number, total=len(clips))
                say(f"\n{heading}", err=options.as_json)
            outcomes.append(_analyse_clip(clip, folder, options, labels))
    if len(clips) > 1:
        _print_summary(outcomes, options.as_json)
    worst = max((outcome.exit_code for outcome in outcomes), key=_GRAVITY.index)
    if worst:
        raise typer.Exit(worst)


def _choose_folders(clips: Sequence[Path], out: Path | None) -> dict[Path, Path]:
    """The folder of each clip's report; no two are the same."""
    if len(clips) == 1 and out is not None:
        return {clips[0]: out}
    folders: dict[Path, Path] = {}
    for clip in clips:
        folder = (out or Path()) / f"{clip.stem}_stance"
        # Some systems take large and small letters of a name for the same.
        taken = [c for c, f in folders.items() if str(f).casefold() == str(folder).casefold()]
        if taken:
            raise typer.BadParameter(
                _(
                    "The reports of {one} and {other} would go to the same folder, {folder}. "
                    "Analyse them one at a time, each with an --out of its own."
                ).format(one=taken[0], other=clip, folder=folder),
                param_hint="CLIP",
            )
        folders[clip] = folder
    return folders


def _analyse_clip(clip: Path, folder: Path, options: AnalyseOptions, labels: _Labels) -> _Outcome:
    """Measure one clip, write its files and print its result, or say why that cannot be."""
    from stance.runtime.progress import Timings

    timings = Timings()
    try:
        with progress_bars() as progress:
            result = _measure_and_write(clip, folder, options, labels, progress, timings)
    except (StanceError, OSError) as error:
        sentence, code = put_in_words(error)
        say(sentence, err=True)
        return _Outcome(clip, code, sentence)
    if options.show_timings:
        for stage, seconds in timings.seconds.items():
            say(f"{stage:>8} {seconds:7.2f} s", err=True)
    print_result(result, folder, options.as_json)
    report = str(folder / "report.html")
    if any(p.ready_positions or p.stroke_counts.on_the_move for p in result.players):
        return _Outcome(clip, 0, report)
    words = _("nothing to assess; {report} says why").format(report=report)
    return _Outcome(clip, NothingToAssess.exit_code, words)


def _measure_and_write(
    clip: Path,
    folder: Path,
    options: AnalyseOptions,
    labels: _Labels,
    progress: "Progress",
    timings: "Timings",
) -> "Result":
    """Measure one clip and write its files."""
    from stance.analysis import analyse as analyse_clip
    from stance.assessment.labels import label_result
    from stance.assessment.options import AnalysisOptions
    from stance.reports.writing import write_analysis
    from stance.results.files import check_folder
    from stance.watching.options import QUICK, THOROUGH

    check_folder(folder)
    analysis = analyse_clip(
        clip,
        options.court or find_court_file(clip),
        AnalysisOptions(
            hand=options.hand,
            half=options.half,
            player=options.player,
            names=labels.names,
            effort=THOROUGH if options.thorough else QUICK,
            cache_folder=folder,
            filmed_from=options.filmed_from,
            blur_faces=options.blur_faces,
        ),
        progress,
        timings,
    )
    result = label_result(analysis.result, labels.names, labels.day, options.session)
    write_analysis(
        replace(analysis, result=result), clip, folder, options.overlay, progress, timings
    )
    return result


def _print_summary(outcomes: Sequence[_Outcome], err: bool) -> None:
    """Say of several clips how many were measured, and what became of each."""
    measured = sum(outcome.exit_code == 0 for outcome in outcomes)
    heading = _("{measured} of {total} clips measured:")
    say("\n" + heading.format(measured=measured, total=len(outcomes)), err=err)
    for outcome in outcomes:
        say(f"  {outcome.clip}: {outcome.words}", err=err)


def _read_names(entries: list[str]) -> dict[str, str]:
    """Names by letter from [LETTER=]NAME; a name without a letter is player A's."""
    from stance.runtime.plain_text import MOST_LETTERS, clean_name

    names = {}
    for entry in entries:
        letter, name = entry.split("=", 1) if "=" in entry else ("A", entry)
        if letter not in tuple("ABCD") or not name.strip():
            raise typer.BadParameter(
                _("{entry} is not NAME or LETTER=NAME, such as A=Mia.").format(entry=repr(entry)),
                param_hint="--name",
            )
        names[letter] = clean_name(name)
        if len(names[letter]) > MOST_LETTERS:
            raise typer.BadParameter(
                _("The name has more than {count} letters; give a shorter one.").format(
                    count=MOST_LETTERS
                ),
                param_hint="--name",
            )
    return names
