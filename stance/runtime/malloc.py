"""How the GNU C library keeps free memory: in fewer arenas.

Other C libraries have no such switch; there nothing happens.
"""

import ctypes
import sys

# Arenas that all threads share, and the number of that parameter in mallopt(3).
_ARENAS, _M_ARENA_MAX = 2, -8


def limit_malloc_arenas() -> None:
    """Have the threads made from now on share two malloc arenas.

    By itself the GNU C library makes an arena for each thread, up to sixteen on two cores, and
    picture parts of all sizes leave holes in each (docs/performance.md).
    """
    if sys.platform == "linux" and (mallopt := getattr(ctypes.CDLL(None), "mallopt", None)):
        mallopt(_M_ARENA_MAX, _ARENAS)
