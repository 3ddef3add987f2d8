"""The command `stance history`."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from stance.cli.console import make_console, say, say_json, sentences
from stance.cli.options import check_date
from stance.errors import NothingToAssess
from stance.runtime.language import gettext as _

if TYPE_CHECKING:
    from stance.comparison.history import Entry


def history(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", hidden=True)],
    player: Annotated[str | None, typer.Option(metavar="NAME", help="Only this player.")] = None,
    since: Annotated[
        str | None, typer.Option(metavar="DATE", help="Only from this date on.")
    ] = None,
    until: Annotated[str | None, typer.Option(metavar="DATE", help="Only up to this date.")] = None,
    session: Annotated[str | None, typer.Option(metavar="NAME", help="Only this session.")] = None,
    view: Annotated[
        Literal["behind", "corner", "side", "front", "unknown"] | None,
        typer.Option(
            metavar="VIEW",
            help="Only filmed from there: behind, corner, side, front or unknown.",
        ),
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print JSON and nothing else, for other programs.")
    ] = False,
) -> None:
    """List earlier results by player, date and session.

    FOLDER has results in it or below it.

    Exit codes: 0 done; 2 wrong use of the command; 3 there is no such folder; 4 nothing there.
    """
    with sentences():
        from stance.comparison.history import Choice, list_entries
        from stance.runtime.plain_text import clean_name

        choice = Choice(
            None if player is None else clean_name(player),
            check_date(since),
            check_date(until),
            None if session is None else clean_name(session),
            view,
        )
        found = list_entries(folder, choice)
    entries = found.entries
    for reason in found.left_out:
        say(_("Left out: {reason}").format(reason=reason), err=True)
    if as_json:
        say_json([vars(entry) for entry in entries])
    elif entries:
        _print_entries(entries)
    if not entries:
        say(_("No result in {folder} fits.").format(folder=folder), err=True)
        raise typer.Exit(NothingToAssess.exit_code)


def _print_entries(entries: Sequence["Entry"]) -> None:
    """Print results as a table."""
    from rich import box
    from rich.table import Table

    from stance.runtime.plain_text import printable

    table = Table(box=box.SIMPLE_HEAD, padding=(0, 1, 0, 0), pad_edge=False)
    for heading in ("date", "side-on"):
        table.add_column(heading, no_wrap=True)
    for heading in ("player", "session", "clip", "filmed from", "court"):
        table.add_column(heading, overflow="fold")
    # Names of stored results are long and say nothing; `--json` has them whole.
    table.add_column("folder", no_wrap=True, overflow="ellipsis", max_width=12)
    for e in entries:
        height = "" if e.height_m is None else f" {e.height_m:.1f} m"
        cells = (
            e.date,
            f"{e.over_side_on} of {e.assessed}",
            e.player,
            e.session,
            e.clip,
            e.view + height,
            e.court,
            str(Path(e.file).parent),
        )
        table.add_row(*map(printable, cells))
    make_console().print(table)
