"""The command line: the program and its commands. Exit codes: README."""

from typing import Annotated

import typer

from stance import __version__
from stance.cli.analyse import analyse
from stance.cli.compare import PathLists, compare
from stance.cli.console import say
from stance.cli.court import court
from stance.cli.forget import forget
from stance.cli.history import history
from stance.cli.options import spread_options
from stance.cli.screen import screen

app = typer.Typer(no_args_is_help=True, add_completion=False, pretty_exceptions_enable=False)


def _print_version(wanted: bool) -> None:
    if wanted:
        say(f"stance {__version__}")
        raise typer.Exit


@app.callback()
def main(
    version: Annotated[
        bool,
        typer.Option(
            "--version", is_eager=True, callback=_print_version, help="Print the version and exit."
        ),
    ] = False,
) -> None:
    """Measure how a badminton defender stands for the smash, from a clip filmed with a phone."""


app.command()(spread_options(analyse))
app.command()(court)
app.command(cls=PathLists)(spread_options(compare))
app.command()(spread_options(screen))
app.command()(history)
app.command()(forget)
