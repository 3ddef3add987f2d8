"""The command line: the program and its commands. Exit codes: README."""

import inspect
import os
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from stance import __version__
from stance.cli.analyse import analyse
from stance.cli.compare import PathLists, compare
from stance.cli.console import INTERRUPTED, say
from stance.cli.court import court
from stance.cli.forget import forget
from stance.cli.history import history
from stance.cli.options import spread_options
from stance.cli.screen import screen
from stance.runtime.language import gettext as _


class CommandsOrClip(TyperGroup):
    """The commands; a clip in the place of one means `analyse`."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Put in the command's name before a clip, or before an option that is a command's."""
        own = {name for option in self.get_params(ctx) for name in option.opts}
        if args and args[0] not in own and args[0] not in self.commands:
            is_option = args[0].startswith("-")
            if is_option or os.sep in args[0] or Path(args[0]).suffix or Path(args[0]).exists():
                args = ["analyse", *args]
        parsed: list[str] = super().parse_args(ctx, args)
        return parsed


# Plain help: in boxes each option's column would be 21 letters wide on a usual terminal.
app = typer.Typer(
    cls=CommandsOrClip,
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def _print_version(wanted: bool) -> None:
    if wanted:
        say(f"stance {__version__}")
        raise typer.Exit


def main(
    version: Annotated[
        bool,
        typer.Option(
            "--version",
            is_eager=True,
            callback=_print_version,
            help=_("Print the version and exit."),
        ),
    ] = False,
) -> None:
    """Measure how a badminton defender stands for the smash, from a clip filmed with a phone.

    `stance CLIP` is short for `stance analyse CLIP`. `stance COMMAND --help` explains a command.
    """


def _help(command: Callable[..., None]) -> str:
    """A command's docstring, in the reader's language."""
    return _(inspect.cleandoc(command.__doc__ or ""))


app.callback(help=_help(main))(main)
app.command(help=_help(analyse))(spread_options(analyse))
app.command(help=_help(court))(court)
app.command(cls=PathLists, help=_help(compare))(spread_options(compare))
app.command(help=_help(screen))(spread_options(screen))
app.command(help=_help(history))(spread_options(history))
app.command(help=_help(forget))(forget)


def run() -> None:
    """Run the program; one that was stopped ends at once.

    What MediaPipe was making when it was interrupted may abort the process when it is freed.
    """
    try:
        app(prog_name="stance")
    except SystemExit as end:
        if end.code != INTERRUPTED:
            raise
        for stream in (sys.stdout, sys.stderr):
            with suppress(OSError):
                stream.flush()
        os._exit(INTERRUPTED)
