"""The C library is told to share free memory and to give it back, where it can be told."""

import subprocess
import sys

from tests.paths import ROOT


def printed(code: str, *words: str) -> float:
    """The number that some code prints in a process of its own, given words."""
    run = subprocess.run(
        [sys.executable, "-c", code, *words], cwd=ROOT, text=True, capture_output=True, check=True
    )
    return float(run.stdout)


# Prints in how many stocks the GNU C library keeps free memory once eight threads have used some,
# as malloc_info(3) lists them; 0 where there is no such function.
STOCKS = """
import ctypes, sys, tempfile, threading
library = ctypes.CDLL(None) if sys.platform == "linux" else None
if not hasattr(library, "malloc_info"):
    sys.exit(print(0))
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
library.fopen.restype = ctypes.c_void_p
with tempfile.NamedTemporaryFile() as told:
    file = ctypes.c_void_p(library.fopen(told.name.encode(), b"w"))
    library.malloc_info(0, file)
    library.fclose(file)
    print(told.read().count(b"<heap nr="))
"""


def test_threads_share_free_memory_where_the_c_library_would_keep_it_apart() -> None:
    alone, shared = printed(STOCKS), printed(STOCKS, "shared")
    assert shared < alone or alone == 0


# Prints how much of 100 MB stays in memory that were let go below something still in use, in MB,
# where the GNU C library is what keeps it.
BELOW = """
import ctypes, os, sys
def held():
    with open("/proc/self/statm") as told:
        return int(told.read().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6
if sys.platform != "linux" or not hasattr(ctypes.CDLL(None), "malloc_trim"):
    from stance.runtime.malloc import trim_malloc
    trim_malloc()
    sys.exit(print(0))
before = held()
pieces = [bytes(10_000) for _ in range(10_000)]
pieces = pieces[-1:]
if sys.argv[1:]:
    from stance.runtime.malloc import trim_malloc
    trim_malloc()
print(held() - before)
"""


def test_memory_let_go_below_something_in_use_is_given_back_where_the_c_library_keeps_it() -> None:
    kept, given_back = printed(BELOW), printed(BELOW, "given back")
    assert given_back < 0.2 * kept or kept == 0
