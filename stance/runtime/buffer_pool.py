"""Memory for pictures that are kept for seconds, used again and again.

Parts of pictures, each of another size, leave holes in the memory that all share when they go, and
small things that stay take these up: over ten minutes some 35 MB are lost so. New memory for each
would have to be cleared by the system, which takes longer than the copy (docs/performance.md).
"""

import mmap
import sys
import threading
import weakref

import numpy as np

from stance.types import ImageArray

# Places are as large as the picture, rounded up to so many bytes.
_STEP = 2**18


class BufferPool:
    """Places for pictures; there are never more than pictures were kept at a time."""

    def __init__(self) -> None:
        self._free: list[mmap.mmap] = []
        self._taking = threading.Lock()

    def keep(self, picture: ImageArray) -> ImageArray:
        """Copy a picture to a place that is free again once the copy and its views are gone.

        Parameters
        ----------
        picture : (height, width, 3) uint8, not empty

        Returns
        -------
        (height, width, 3) uint8, a copy that may be written to
        """
        place = self._place(picture.nbytes)
        flat = np.frombuffer(place, np.uint8, picture.nbytes)
        # Views, however deep, hold on to `flat`.
        weakref.finalize(flat, self._free.append, place).atexit = False
        kept = flat.reshape(picture.shape)
        kept[:] = picture
        return kept

    def _place(self, size: int) -> mmap.mmap:
        """The smallest free place of a size, or a new one instead of one that is too small."""
        with self._taking:
            # Others may become free meanwhile.
            free = list(self._free)
            place = min((one for one in free if len(one) >= size), key=len, default=None)
            if place is not None:
                self._free.remove(place)
                return place
            if free:
                self._free.remove(min(free, key=len))
        return _new(-(-size // _STEP) * _STEP)


def _new(size: int) -> mmap.mmap:
    """Memory from the system that no other process sees."""
    if sys.platform == "win32":
        return mmap.mmap(-1, size)
    return mmap.mmap(-1, size, flags=mmap.MAP_PRIVATE | mmap.MAP_ANONYMOUS)
