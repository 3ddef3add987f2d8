"""What all commands share: errors as sentences, and progress on the terminal."""

import _thread
import errno
import io
import json
import signal
import sys
import threading
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Any

import typer

from stance.errors import InputError, StanceError
from stance.runtime.language import gettext as _

if TYPE_CHECKING:
    from rich.console import Console
    from rich.progress import TaskID

    from stance.results.model import Notice
    from stance.runtime.progress import Progress

INTERRUPTED = 130

# Until the code that can't raise is left, seconds.
_AGAIN_S = 0.05


def say(text: str, err: bool = False) -> None:
    """Print lines; nothing in them steers the terminal, and what it lacks is written out.

    Passwords and signatures in web addresses are left out.
    """
    from stance.runtime.plain_text import hide_secrets, printable_lines

    stream = sys.stderr if err else sys.stdout
    encoding = stream.encoding or "utf-8"
    shown = (
        printable_lines(hide_secrets(text)).encode(encoding, "backslashreplace").decode(encoding)
    )
    typer.echo(shown, err=err)


def say_json(content: Any) -> None:
    """Print JSON for a program on one line, pure ASCII where anything else could be lost."""
    text = json.dumps(content, ensure_ascii=False, allow_nan=False)
    try:
        text.encode(sys.stdout.encoding or "utf-8")
        typer.echo(text)
    except UnicodeEncodeError:
        typer.echo(json.dumps(content, allow_nan=False))


def make_console() -> "Console":
    """A place for tables on stdout, in which square brackets are text and no markup."""
    from rich.console import Console

    # What the terminal's code page lacks is written out, as in `say`.
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="backslashreplace")
    return Console(highlight=False, markup=False, emoji=False)


@contextmanager
def sentences() -> Iterator[None]:
    """Turn errors into a sentence on stderr and an exit code; SIGTERM stops as Ctrl-C does."""
    try:
        with _stopped_by_signals():
            yield
    except KeyboardInterrupt as error:
        stopped = _(
            "Stopped. Files that were written stay whole; run the same command again to go on."
        )
        say(stopped, err=True)
        raise typer.Exit(INTERRUPTED) from error
    except (StanceError, OSError, ImportError) as error:
        sentence, code = put_in_words(error)
        say(sentence, err=True)
        raise typer.Exit(code) from error


def put_in_words(error: StanceError | OSError | ImportError) -> tuple[str, int]:
    """What an error is to a coach, a sentence, and its exit code; a fault of the tool is raised."""
    if isinstance(error, StanceError):
        return str(error), error.exit_code
    if isinstance(error, OSError):
        # Of a closed pipe, as of `| head`, nobody wants to hear.
        if error.errno == errno.EPIPE or error.strerror is None:
            raise error
        about = "" if error.filename is None else f"{error.filename}: "
        sentence = _("The system refuses: {reason}. Use another file or folder.")
        return sentence.format(reason=f"{about}{error.strerror}"), InputError.exit_code
    if "libGL" not in str(error) and "libgthread" not in str(error):
        raise error
    missing = _(
        "A system library that OpenCV needs is missing. On Debian and Ubuntu: "
        "sudo apt-get install libgl1 libglib2.0-0"
    )
    return missing, StanceError.exit_code


@contextmanager
def _stopped_by_signals() -> Iterator[None]:
    """Let the signals by which a system ends a program end it as Ctrl-C does."""
    known = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")
    names = [name for name in known if hasattr(signal, name)]
    signals = [getattr(signal, name) for name in names]
    # Only the main thread may say what a signal does; what is ignored (nohup) stays so.
    is_main = threading.current_thread() is threading.main_thread()
    before = {s: signal.getsignal(s) for s in signals if is_main}
    for number in before:
        if before[number] in (signal.SIG_DFL, signal.default_int_handler):
            signal.signal(number, _stop)
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _stop(number: int, frame: FrameType | None) -> None:
    """Raise KeyboardInterrupt, wherever the program is."""
    # MediaPipe's objects, interrupted while they are made, complain when they are freed.
    sys.unraisablehook = _stop_again_if_lost
    signal.default_int_handler(number, frame)


def _stop_again_if_lost(unraisable: "sys.UnraisableHookArgs") -> None:
    """Interrupt once more where the first time fell into code that can't raise."""
    if issubclass(unraisable.exc_type, KeyboardInterrupt):
        threading.Timer(_AGAIN_S, _thread.interrupt_main).start()


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
        TextColumn(_("left")),
    )
    with Bars(*columns, console=console) as bars:
        tasks: dict[str, TaskID] = {}

        def report(stage: str, done: int, total: int) -> None:
            if stage not in tasks:
                tasks[stage] = bars.add_task(_(stage), total=total)
            bars.update(tasks[stage], completed=done, total=total)

        yield report


def print_notices(notices: Iterable["Notice"]) -> None:
    """Print what the coach must know on stderr."""
    for notice in notices:
        say(_("Note: {text}").format(text=notice.text), err=True)


def find_court_file(clip: Path) -> Path | None:
    """The court file beside a clip, and say that it is taken; None where there is none."""
    from stance.court.court_file import court_file_beside
    from stance.runtime.regular_files import is_regular

    beside = court_file_beside(clip)
    if not is_regular(beside):
        return None
    note = _("Note: The court is taken from {file}, which lies beside the clip.")
    say(note.format(file=beside), err=True)
    return beside
