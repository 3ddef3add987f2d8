"""Processor cores and threads: how many may be used, and which goes first."""

import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress

import cv2


@contextmanager
def single_threaded_opencv() -> Iterator[None]:
    """Keep OpenCV from cutting one picture up for several threads."""
    threads = cv2.getNumThreads()
    cv2.setNumThreads(1)
    try:
        yield
    finally:
        cv2.setNumThreads(threads)


NICENESS = 10
"""How much nicer than its user a thread is that makes something ahead, as setpriority(2) counts."""


def usable_cores() -> int:
    """How many cores this process may use."""
    return (len(os.sched_getaffinity(0)) if sys.platform == "linux" else os.cpu_count()) or 1


def lower_thread_priority() -> None:
    """Lower the priority of this thread and of those that it makes, such as a decoder's.

    Whoever uses what is made ahead mostly has it at hand and else waits. With equal shares of the
    cores the queue was full again and again, and then a core idle, while its user had not come to
    an end (docs/performance.md). Linux only: elsewhere there is no such number for a thread.
    """
    if sys.platform == "linux":
        thread = threading.get_native_id()
        with suppress(OSError):
            os.setpriority(
                os.PRIO_PROCESS, thread, os.getpriority(os.PRIO_PROCESS, thread) + NICENESS
            )
