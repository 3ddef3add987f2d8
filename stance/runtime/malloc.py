"""How the process keeps free memory, where the C library can be told.

That is the GNU one, on most Linux systems; others have no such switches.
"""

import ctypes
import sys

# Stocks of free memory that threads share, and what mallopt(3) calls their number.
_ARENAS, _M_ARENA_MAX = 2, -8


def limit_malloc_arenas() -> None:
    """Have the threads that are made from now on share what memory is free.

    The GNU C library by itself keeps a stock for each thread, up to sixteen on two cores, and parts
    of pictures, each of another size, leave holes in all of them: 50 to 80 MB.
    """
    if sys.platform == "linux" and (switch := getattr(ctypes.CDLL(None), "mallopt", None)):
        switch(_M_ARENA_MAX, _ARENAS)


def trim_malloc() -> None:
    """Give the system back what memory is free.

    The GNU C library by itself keeps what lies below anything that is still in use.
    """
    if sys.platform == "linux" and (trim := getattr(ctypes.CDLL(None), "malloc_trim", None)):
        trim(0)
