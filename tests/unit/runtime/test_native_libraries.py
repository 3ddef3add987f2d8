"""Native lines stay away from the terminal, and modules that are left out can be loaded later."""

import os
import subprocess
import sys
import threading

import pytest

from stance.runtime.native_libraries import modules_left_out, silenced_native_log
from tests.paths import ROOT


def write_natively(line: str) -> None:
    """Write a line as native code does, past Python's `sys.stderr`."""
    os.write(2, f"{line}\n".encode())


def test_what_native_code_writes_shows_before_and_after_but_not_meanwhile(
    capfd: pytest.CaptureFixture[str],
) -> None:
    write_natively("before")
    with silenced_native_log():
        write_natively("meanwhile")
    write_natively("after")
    assert capfd.readouterr().err.split() == ["before", "after"]


def test_it_shows_again_when_something_fails(capfd: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(ValueError, match="failed"), silenced_native_log():
        raise ValueError("failed")
    write_natively("after")
    assert capfd.readouterr().err == "after\n"


def test_silence_lasts_until_the_last_thread_is_done(capfd: pytest.CaptureFixture[str]) -> None:
    inside, leave = threading.Event(), threading.Event()

    def stay_silent() -> None:
        with silenced_native_log():
            inside.set()
            leave.wait()

    longer = threading.Thread(target=stay_silent)
    with silenced_native_log():
        longer.start()
        inside.wait()
    write_natively("one of two")
    leave.set()
    longer.join()
    write_natively("none")
    assert capfd.readouterr().err == "none\n"


def test_modules_are_empty_meanwhile_and_real_afterwards() -> None:
    # In a process of its own, since other tests may have loaded them.
    code = (
        "from stance.runtime.native_libraries import modules_left_out\n"
        "with modules_left_out('wsgiref', 'wsgiref.util'):\n"
        "    import wsgiref.util\n"
        "    print(hasattr(wsgiref.util, 'guess_scheme'))\n"
        "import wsgiref.util\n"
        "print(hasattr(wsgiref.util, 'guess_scheme'))\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, text=True, capture_output=True, check=True
    )
    assert run.stdout.split() == ["False", "True"]


def test_a_module_that_is_loaded_already_stays() -> None:
    with modules_left_out("threading"):
        assert sys.modules["threading"] is threading
    assert sys.modules["threading"] is threading
