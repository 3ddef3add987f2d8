"""The command `stance compare`."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperCommand

from stance.cli.console import find_court_file, print_notices, progress_bars, say, sentences
from stance.cli.options import FilmedFrom, Hand, check_date
from stance.errors import NothingToAssess
from stance.runtime.language import gettext as _

if TYPE_CHECKING:
    from stance.comparison.choosing import ResultSets
    from stance.runtime.progress import Progress


class PathLists(TyperCommand):
    """A command whose options --before and --after take all paths up to the next option."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Repeat the option before each further path."""
        repeated: list[str] = []
        option, has_path = None, False
        for argument in args:
            if argument.startswith("-"):
                option = argument if argument in ("--before", "--after") else None
                has_path = False
            elif option is not None and has_path:
                repeated.append(option)
            has_path = not argument.startswith("-")
            repeated.append(argument)
        parsed: list[str] = super().parse_args(ctx, repeated)
        return parsed


@dataclass(frozen=True)
class CompareOptions:
    """The options of the command, in the order in which its help lists them."""

    before: Annotated[
        list[str] | None,
        typer.Option(
            metavar="PATH...",
            help=_("Results (result.json or a result folder) or clips from before the block."),
        ),
    ] = None
    after: Annotated[
        list[str] | None, typer.Option(metavar="PATH...", help=_("The same from after it."))
    ] = None
    player: Annotated[
        str | None,
        typer.Option(metavar="NAME", help=_("Name or letter of the only player wanted.")),
    ] = None
    court: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help=_(
                "Court file for clips that have none of their own; CLIP.court.json beside "
                "CLIP.mp4 is taken where it is there."
            ),
        ),
    ] = None
    hand: Annotated[Hand | None, typer.Option(help=_("The racket hand in the clips."))] = None
    blur_faces: Annotated[
        bool,
        typer.Option(
            "--blur-faces", help=_("Make all faces unknowable in the pictures of the clips.")
        ),
    ] = False
    filmed_from: Annotated[
        FilmedFrom | None,
        typer.Option(
            metavar="PLACE",
            help=_(
                "Where the phone stood for the clips, seen from the player who faces the net, "
                "as for stance analyse; asked only where the court is not found."
            ),
        ),
    ] = None
    count_assumed: Annotated[
        bool,
        typer.Option(
            "--count-assumed",
            help=_("Also count clips whose court is not known, so that the camera was assumed."),
        ),
    ] = False
    history: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER",
            help=_("Instead of --before and --after: a folder of results to choose from."),
        ),
    ] = None
    split: Annotated[
        str | None,
        typer.Option(
            metavar="DATE",
            help=_("With --history: the date from which results count as after (2026-03-14)."),
        ),
    ] = None
    sessions: Annotated[
        tuple[str, str] | None,
        typer.Option(
            metavar="BEFORE AFTER",
            help=_("With --history: the session before and the session after."),
        ),
    ] = None
    out: Annotated[Path, typer.Option(metavar="FOLDER", help=_("Folder for the comparison."))] = (
        Path("comparison")
    )


def compare(options: CompareOptions) -> None:
    """Compare stances before and after a training block.

    Of one player or of a group. Writes comparison.json and report.html into the output folder;
    results of clips are kept there too.

    Exit codes: 0 done; 2 wrong use of the command; 3 a file can't be read or is not what it
    says it is, or the sets can't be compared; 4 nothing could be assessed (the comparison is
    written and says so).
    """
    with sentences(), progress_bars() as progress:
        _check_use(options)
        from stance.runtime.plain_text import clean_name

        if options.player is not None:
            options = replace(options, player=clean_name(options.player))
        sets = _read_sets(options, progress)
        from stance.comparison.compare import compare as compare_results
        from stance.comparison.writing import write_comparison

        comparison = compare_results(sets.before, sets.after, options.player, options.count_assumed)
        comparison = replace(comparison, warnings=(*sets.list_notices(), *comparison.warnings))
        write_comparison(comparison, options.out, sets.folders)
    print_notices([*comparison.warnings, *comparison.whole.warnings])
    say(comparison.whole.statement)
    say(comparison.whole.advice)
    say(_("Report: {file}").format(file=options.out / "report.html"))
    share = comparison.whole.classes["over_side_on"]
    if share.before.share is None or share.after.share is None:
        raise typer.Exit(NothingToAssess.exit_code)


def _check_use(options: CompareOptions) -> None:
    """Refuse options that don't go together."""
    if options.history is None:
        if options.split is not None or options.sessions is not None:
            raise typer.BadParameter(_("--split and --sessions need --history."))
        if not options.before or not options.after:
            raise typer.BadParameter(_("Give --before and --after, or --history."))
    elif options.before or options.after:
        raise typer.BadParameter(_("Give either --before and --after or --history, not both."))
    elif (options.split is None) == (options.sessions is None):
        raise typer.BadParameter(_("With --history give either --split or --sessions."))


def _read_sets(options: CompareOptions, progress: "Progress") -> "ResultSets":
    """The two sets, from the history or from the paths."""
    from stance.comparison.choosing import choose_by_date, choose_by_session
    from stance.results.files import check_folder

    check_folder(options.out)
    if options.history is not None and options.sessions is not None:
        return choose_by_session(options.history, *options.sessions, options.player)
    if options.history is not None:
        return choose_by_date(options.history, check_date(options.split) or "", options.player)
    from stance.academy.result_sets import ClipSettings, read_result_sets
    from stance.academy.result_store import STORE_FOLDER, Store

    for path in dict.fromkeys([*(options.before or []), *(options.after or [])]):
        if Path(path).is_file():
            find_court_file(Path(path))
    return read_result_sets(
        options.before or [],
        options.after or [],
        ClipSettings(
            None if options.court is None else str(options.court),
            options.hand,
            options.filmed_from,
            options.blur_faces,
        ),
        Store(options.out / STORE_FOLDER),
        progress,
    )
