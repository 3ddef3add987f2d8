"""A temporary file for objects that are needed again only when a clip has been watched.

In memory they would grow with the clip's length (docs/performance.md).
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
    """Pickled objects in a temporary file that only this process reads; for several threads."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
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
        # Closing writes what is still buffered; nobody asks for that any more.
        with suppress(OSError):
            self._file.close()

    def put(self, thing: object) -> int:
        """Write an object that can be pickled.

        Returns
        -------
        offset in the file, bytes, by which `get` finds it

        Raises
        ------
        OutputError
            If the file can't be written.
        """
        with self._alone():
            offset = self._file.seek(0, 2)
            pickle.dump(thing, self._file, pickle.HIGHEST_PROTOCOL)
            return offset

    def get(self, offset: int) -> Any:
        """Return a copy of the object that was put at an offset.

        Raises
        ------
        OutputError
            If the file can't be written or read.
        """
        with self._alone():
            self._file.seek(offset)
            return pickle.load(self._file)

    @contextmanager
    def _alone(self) -> Iterator[None]:
        """Let one thread at a time use the file; say what is wrong with it."""
        with self._lock:
            try:
                yield
            except OSError as problem:
                raise OutputError(
                    "This computer's folder for temporary files can't be used "
                    f"({problem.strerror}). Make room on the disk and try again."
                ) from problem
