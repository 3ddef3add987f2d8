"""Errors become a sentence and an exit code."""

import gc
import io
import json
import os
import signal
import sys
import time
from functools import partial

import pytest
import typer

from stance.cli.console import (
    INTERRUPTED,
    make_console,
    print_notices,
    progress_bars,
    say,
    say_json,
    sentences,
)
from stance.errors import InputError, NothingToAssess, OutputError, StanceError
from stance.results.model import Notice


@pytest.mark.parametrize(
    ("error", "code", "words"),
    [
        (InputError("The clip is empty."), 3, "The clip is empty."),
        (OutputError("No room."), 3, "No room."),
        (NothingToAssess("Nobody is seen."), 4, "Nobody is seen."),
        (StanceError("No scheduler."), 1, "No scheduler."),
        (OSError(36, "File name too long", "x.mp4"), 3, "x.mp4: File name too long. Use another"),
        (KeyboardInterrupt(), INTERRUPTED, "run the same command again"),
        (ImportError("libGL.so.1: cannot open"), 1, "apt-get install libgl1"),
    ],
)
def test_an_error_is_a_sentence_on_stderr_and_an_exit_code(capsys, error, code, words):
    with pytest.raises(typer.Exit) as exit_, sentences():
        raise error
    assert exit_.value.exit_code == code
    shown = capsys.readouterr()
    assert words in shown.err and shown.out == ""


class _HalfMade:
    """Is interrupted while it is made, and frees then what it has not got yet."""

    def __init__(self) -> None:
        os.kill(os.getpid(), signal.SIGINT)
        time.sleep(5)
        self.held = 1

    def __del__(self) -> None:
        assert self.held


class _Freed:
    """Is interrupted while it is freed, where nothing can be raised."""

    def __del__(self) -> None:
        os.kill(os.getpid(), signal.SIGINT)
        time.sleep(5)


@pytest.mark.skipif(sys.platform == "win32", reason="Windows sends no such signal")
@pytest.mark.parametrize("interrupted", [_HalfMade, _Freed])
def test_ctrl_c_stops_wherever_it_falls_without_a_word_from_half_made_objects(
    interrupted, capsys, monkeypatch
):
    # As outside of pytest.
    monkeypatch.setattr(sys, "unraisablehook", sys.__unraisablehook__)
    with pytest.raises(typer.Exit) as exit_, sentences():
        interrupted()
        time.sleep(5)
    assert exit_.value.exit_code == INTERRUPTED
    del exit_
    gc.collect()
    shown = capsys.readouterr()
    assert "Stopped." in shown.err and "Traceback" not in shown.err
    assert signal.getsignal(signal.SIGINT) == signal.default_int_handler


@pytest.mark.skipif(sys.platform == "win32", reason="Windows sends no such signal")
@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP"])
def test_a_signal_that_ends_programs_is_as_ctrl_c(name, capsys, request):
    number = getattr(signal, name)
    # Whoever runs the tests may ignore it (nohup).
    request.addfinalizer(partial(signal.signal, number, signal.getsignal(number)))
    signal.signal(number, signal.SIG_DFL)
    with pytest.raises(typer.Exit) as exit_, sentences():
        os.kill(os.getpid(), number)
        time.sleep(5)
    assert exit_.value.exit_code == INTERRUPTED
    assert "run the same command again" in capsys.readouterr().err
    assert signal.getsignal(number) == signal.SIG_DFL


def test_a_reader_that_left_is_no_error_of_a_file(capsys):
    with pytest.raises(BrokenPipeError), sentences():
        raise BrokenPipeError(32, "Broken pipe")
    assert capsys.readouterr().err == ""


def test_a_fault_of_the_tool_is_not_hidden():
    with pytest.raises(ImportError, match="no_such_module"), sentences():
        raise ImportError("no_such_module")


def test_progress_shows_nothing_where_stderr_is_no_terminal(capsys):
    with progress_bars() as progress:
        progress("watching the clip", 1, 2)
        progress("watching the clip", 2, 2)
    assert capsys.readouterr() == ("", "")


def test_notices_go_to_stderr(capsys):
    print_notices([Notice("one", "First."), Notice("two", "Second.")])
    assert capsys.readouterr().err == "Note: First.\nNote: Second.\n"


NASTY = "[/red] \x1b[31m Zoë 渡辺 \udcff"


def shown_by(monkeypatch, show):
    """What is shown on a standard output of a code page that lacks most letters."""
    stream = io.TextIOWrapper(io.BytesIO(), "cp1252", errors="strict")
    monkeypatch.setattr(sys, "stdout", stream)
    show()
    stream.flush()
    return stream.buffer.getvalue().decode("cp1252")


def test_any_name_is_shown_on_any_code_page(monkeypatch):
    shown = shown_by(monkeypatch, lambda: say(f"Player {NASTY}\nend"))
    first = "Player [/red] \\x1b[31m Zoë \\u6e21\\u8fba \\xff"
    assert shown.splitlines() == [first, "end"]


def test_json_is_whole_on_any_code_page(monkeypatch):
    assert json.loads(shown_by(monkeypatch, lambda: say_json([NASTY]))) == [NASTY]


def test_a_table_takes_brackets_as_text_and_any_letter(monkeypatch):
    shown = shown_by(monkeypatch, lambda: make_console().print("[/red] 渡"))
    assert "[/red] \\u6e21" in shown
