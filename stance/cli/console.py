"""What all commands share: errors as sentences, and progress on the terminal."""

import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import typer

from stance.errors import StanceError

if TYPE_CHECKING:
    from rich.progress import TaskID

    from stance.results.model import Notice
    from stance.runtime.progress import Progress

INTERRUPTED = 130


@contextmanager
def sentences() -> Iterator[None]:
    """Turn errors into a sentence on stderr and an exit code."""
    try:
        yield
    except StanceError as error:
        typer.echo(str(error), err=True)
        raise typer.Exit(error.exit_code) from error
    except KeyboardInterrupt as error:
        typer.echo(
            "Stopped. Files that were written stay whole; run the same command again to go on.",
            err=True,
        )
        raise typer.Exit(INTERRUPTED) from error
    except ImportError as error:
        if "libGL" not in str(error) and "libgthread" not in str(error):
            raise
        typer.echo(
            "A system library that OpenCV needs is missing. On Debian and Ubuntu: "
            "sudo apt-get install libgl1 libglib2.0-0",
            err=True,
        )
        raise typer.Exit(StanceError.exit_code) from error


@contextmanager
def progress_bars() -> Iterator["Progress"]:
    """Show a progress bar with the time left on stderr, when that is a terminal."""
    from rich.console import Console

    from stance.runtime.progress import no_progress

    console = Console(file=sys.stderr)
    if not console.is_terminal:
        yield no_progress
        return
    from rich.progress import BarColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bars

    columns = (
        TextColumn("{task.description:<26}"),
        BarColumn(),
        TextColumn("{task.percentage:>3.0f} %"),
        TimeRemainingColumn(),
        TextColumn("left"),
    )
    with Bars(*columns, console=console) as bars:
        tasks: dict[str, TaskID] = {}

        def report(stage: str, done: int, total: int) -> None:
            if stage not in tasks:
                tasks[stage] = bars.add_task(stage, total=total)
            bars.update(tasks[stage], completed=done, total=total)

        yield report


def print_notices(notices: Iterable["Notice"]) -> None:
    """Print what the coach must know on stderr."""
    for notice in notices:
        typer.echo(f"Note: {notice.text}", err=True)
