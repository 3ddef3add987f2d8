"""Progress of the work, and where its time goes."""

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TypeVar

Item = TypeVar("Item")

# Called with the name of the stage, frames done and frames in all.
Progress = Callable[[str, int, int], None]


class Timings:
    """Seconds spent in each stage, over all threads."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}
        self._lock = threading.Lock()

    @contextmanager
    def of(self, stage: str) -> Iterator[None]:
        """Count the time inside the `with` block to a stage."""
        start = time.perf_counter()
        try:
            yield
        finally:
            with self._lock:
                spent = time.perf_counter() - start
                self.seconds[stage] = self.seconds.get(stage, 0.0) + spent

    def each(self, items: Iterator[Item], stage: str) -> Iterator[Item]:
        """Pass items on; what making them takes counts to a stage."""
        while True:
            with self.of(stage):
                item = next(items, None)
            if item is None:
                return
            yield item


def no_progress(stage: str, done: int, total: int) -> None:
    """Tell nobody."""
