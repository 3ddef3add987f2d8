"""The command `stance history`."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from stance.cli.console import make_console, say, say_json, sentences
from stance.cli.options import check_date
from stance.errors import NothingToAssess
from stance.runtime.language import format_day, format_number
from stance.runtime.language import gettext as _

if TYPE_CHECKING:
    from stance.comparison.history import Choice, Entry


@dataclass(frozen=True)
class HistoryOptions:
    """The options of the command, in the order in which its help lists them."""

    player: Annotated[str | None, typer.Option(metavar="NAME", help=_("Only this player."))] = None
    since: Annotated[
        str | None, typer.Option(metavar="DATE", help=_("Only from this date on."))
    ] = None
    until: Annotated[str | None, typer.Option(metavar="DATE", help=_("Only up to this date."))] = (
        None
    )
    session: Annotated[str | None, typer.Option(metavar="NAME", help=_("Only this session."))] = (
        None
    )
    view: Annotated[
        Literal["behind", "corner", "side", "front", "unknown"] | None,
        typer.Option(
            metavar="VIEW",
            help=_("Only filmed from there: behind, corner, side, front or unknown."),
        ),
    ] = None
    out: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER",
            help=_("Also write a page with each player's line over the season into this folder."),
        ),
    ] = None
    as_json: Annotated[
        bool, typer.Option("--json", help=_("Print JSON and nothing else, for other programs."))
    ] = False


def history(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", hidden=True)],
    options: HistoryOptions,
) -> None:
    """List earlier results by player, date and session.

    FOLDER has results in it or below it.

    Exit codes: 0 done; 2 wrong use of the command; 3 there is no such folder; 4 nothing there.
    """
    with sentences():
        from stance.comparison.history import Choice, list_entries
        from stance.runtime.plain_text import clean_name

        choice = Choice(
            None if options.player is None else clean_name(options.player),
            check_date(options.since),
            check_date(options.until),
            None if options.session is None else clean_name(options.session),
            options.view,
        )
        found = list_entries(folder, choice)
        if options.out is not None:
            _write_page(folder, choice, options.out)
    entries = found.entries
    for reason in found.left_out:
        say(_("Left out: {reason}").format(reason=reason), err=True)
    if options.as_json:
        say_json([vars(entry) for entry in entries])
    elif entries:
        _print_entries(entries)
    if not entries:
        say(_("No result in {folder} fits.").format(folder=folder), err=True)
        raise typer.Exit(NothingToAssess.exit_code)


def _write_page(folder: Path, choice: "Choice", out: Path) -> None:
    """Write the page of the season, where some player can be followed."""
    from stance.comparison.choosing import choose_season
    from stance.comparison.notices import name_some
    from stance.comparison.writing import write_season

    season = choose_season(folder, choice)
    if season.left_out:
        text = _(
            "Not on the page, since the player has no name or the court is not known: {clips}. "
            "Name the player when analysing (--name), and mark the court (stance court CLIP)."
        )
        say(text.format(clips=name_some(season.left_out)), err=True)
    if season.players:
        write_season(season, out)
        say(_("Report: {file}").format(file=out / "report.html"), err=True)


def _print_entries(entries: Sequence["Entry"]) -> None:
    """Print results as a table."""
    from rich import box
    from rich.table import Table

    from stance.comparison.notices import VIEW_WORDS
    from stance.runtime.plain_text import printable

    table = Table(box=box.SIMPLE_HEAD, padding=(0, 1, 0, 0), pad_edge=False)
    for heading in (_("date"), _("player"), _("over-side-on")):
        table.add_column(heading, no_wrap=True)
    for heading in (_("session"), _("clip"), _("filmed from"), _("folder")):
        table.add_column(heading, overflow="fold")
    for e in entries:
        view = _(VIEW_WORDS[e.view])
        if e.height_m is not None:
            height = format_number(e.height_m, 1)
            view = _("{view}, {height} m high").format(view=view, height=height)
        cells = (
            format_day(e.date),
            e.player,
            _("{count} of {assessed}").format(count=e.over_side_on, assessed=e.assessed),
            e.session,
            e.clip,
            view,
            str(Path(e.file).parent),
        )
        table.add_row(*map(printable, cells))
    make_console().print(table)
