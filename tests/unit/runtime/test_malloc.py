"""On the GNU C library threads share two arenas; elsewhere nothing happens."""

import ctypes
import platform
import subprocess
import sys
from types import SimpleNamespace

import pytest

from stance.runtime.malloc import limit_malloc_arenas
from tests.paths import ROOT

needs_glibc = pytest.mark.skipif(
    platform.libc_ver()[0] != "glibc", reason="only the GNU C library has this switch"
)


def printed(code: str, *words: str) -> float:
    """The number that some code prints in a process of its own, given words."""
    run = subprocess.run(
        [sys.executable, "-c", code, *words], cwd=ROOT, text=True, capture_output=True, check=True
    )
    return float(run.stdout)


# Prints how many arenas there are once eight threads have used memory, by malloc_info(3).
ARENAS = """
import ctypes, sys, tempfile, threading
if sys.argv[1:]:
    from stance.runtime.malloc import limit_malloc_arenas
    limit_malloc_arenas()
together = threading.Barrier(8)
def use():
    together.wait()
    pieces = [bytes(size) for size in range(1000, 9000)]
    together.wait()
threads = [threading.Thread(target=use) for _ in range(8)]
for thread in threads:
    thread.start()
for thread in threads:
    thread.join()
library = ctypes.CDLL(None)
library.fopen.restype = ctypes.c_void_p
with tempfile.NamedTemporaryFile() as listed:
    file = ctypes.c_void_p(library.fopen(listed.name.encode(), b"w"))
    library.malloc_info(0, file)
    library.fclose(file)
    print(listed.read().count(b"<heap nr="))
"""


@needs_glibc
def test_threads_share_two_arenas_where_each_would_have_its_own() -> None:
    assert printed(ARENAS) > 2
    assert printed(ARENAS, "limited") == 2


@pytest.mark.parametrize("system", ["linux", "darwin", "win32"])
def test_nothing_happens_where_the_c_library_has_no_such_switch(
    system: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = []

    def load(name: None) -> SimpleNamespace:
        asked.append(name)
        return SimpleNamespace()

    monkeypatch.setattr(ctypes, "CDLL", load)
    monkeypatch.setattr(sys, "platform", system)
    limit_malloc_arenas()
    assert len(asked) == (1 if system == "linux" else 0)
