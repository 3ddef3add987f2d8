"""Makes the next items of a stream in a thread of its own."""

import queue
import threading
from collections.abc import Iterator
from contextlib import suppress
from typing import TypeVar

from stance.runtime.cores import lower_thread_priority

Item = TypeVar("Item")


def prefetch(items: Iterator[Item], count: int) -> Iterator[Item]:
    """Pass items on, made in a thread of their own up to `count` ahead of their use.

    Parameters
    ----------
    items
        iterator What it raises is raised here, in its place.
    count
        how many items wait at most
    """
    waiting: queue.Queue[tuple[Item | None, BaseException | None]] = queue.Queue(count)
    stop = threading.Event()

    def put(item: Item | None, error: BaseException | None) -> None:
        while not stop.is_set():
            with suppress(queue.Full):
                waiting.put((item, error), timeout=0.1)
                return

    def make() -> None:
        lower_thread_priority()
        try:
            for item in items:
                put(item, None)
                if stop.is_set():
                    return
            put(None, None)
        except BaseException as error:
            put(None, error)

    maker = threading.Thread(target=make, daemon=True)
    maker.start()
    try:
        while True:
            item, error = waiting.get()
            if error is not None:
                raise error
            if item is None:
                return
            yield item
    finally:
        stop.set()
        maker.join()
