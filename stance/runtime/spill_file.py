"""A file for what is not needed until a clip has been watched.

In memory it would grow with the clip by some 2 MB a minute, and as much again would be lost: what
is small and stays keeps pictures from the free memory around it (docs/performance.md).
"""

import pickle
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from types import TracebackType
from typing import Any

from stance.errors import OutputError


class SpillFile:
    """Things put aside, in a temporary file that only this process reads."""

    def __init__(self) -> None:
        self._turn = threading.Lock()
        with self._alone():
            self._file = tempfile.TemporaryFile()  # noqa: SIM115 (closed by `__exit__`)

    def __enter__(self) -> "SpillFile":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        # What could not be written is not asked for any more.
        with suppress(OSError):
            self._file.close()

    def put(self, thing: object) -> int:
        """Put something aside that can be pickled; returns its place.

        Raises
        ------
        OutputError
            If the file can't be written.
        """
        with self._alone():
            place = self._file.seek(0, 2)
            pickle.dump(thing, self._file, pickle.HIGHEST_PROTOCOL)
            return place

    def get(self, place: int) -> Any:
        """Return a copy of what was put at a place.

        Raises
        ------
        OutputError
            If the file can't be written or read.
        """
        with self._alone():
            self._file.seek(place)
            return pickle.load(self._file)

    @contextmanager
    def _alone(self) -> Iterator[None]:
        """Let one thread at a time at the file; say what is wrong with it."""
        with self._turn:
            try:
                yield
            except OSError as problem:
                raise OutputError(
                    "This computer's folder for temporary files can't be used "
                    f"({problem.strerror}). Make room on the disk and try again."
                ) from problem
