"""How the GNU C library keeps free memory: fewer arenas, and unused pages given back.

Other C libraries have no such switches; there these functions do nothing.
"""

import ctypes
import sys
from typing import Any

# Arenas that all threads share, and the number of that parameter in mallopt(3).
_ARENAS, _M_ARENA_MAX = 2, -8


def limit_malloc_arenas() -> None:
    """Have the threads made from now on share two malloc arenas.

    By itself the GNU C library makes an arena for each thread, up to sixteen on two cores, and
    picture parts of all sizes leave holes in each (docs/performance.md).
    """
    if (mallopt := _c_function("mallopt")) is not None:
        mallopt(_M_ARENA_MAX, _ARENAS)


def trim_malloc() -> None:
    """Give free pages back to the system, those below memory still in use too.

    By itself the GNU C library gives back only what is free at the top of its heap.
    """
    if (malloc_trim := _c_function("malloc_trim")) is not None:
        malloc_trim(0)


def _c_function(name: str) -> Any:
    """A function of the C library that this process runs on, None where it has no such one."""
    return getattr(ctypes.CDLL(None), name, None) if sys.platform == "linux" else None
