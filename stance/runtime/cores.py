"""Processor cores and threads: how many may be used, and which go first."""

import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress

import cv2
from threadpoolctl import threadpool_limits

NICENESS = 10
"""What `lower_thread_priority` adds to a thread's niceness, as setpriority(2) counts."""


def usable_cores() -> int:
    """How many cores this process may use."""
    return (len(os.sched_getaffinity(0)) if sys.platform == "linux" else os.cpu_count()) or 1


@contextmanager
def single_threaded_libraries() -> Iterator[None]:
    """Keep OpenCV from splitting one picture, and BLAS one matrix product, over several threads.

    The pictures and matrices here are small, and the second thread mostly waits in a loop for work
    (docs/performance.md).
    """
    threads = cv2.getNumThreads()
    with threadpool_limits(1, "blas"):
        cv2.setNumThreads(1)
        try:
            yield
        finally:
            cv2.setNumThreads(threads)


def lower_thread_priority() -> None:
    """Lower the priority of this thread and of those that it makes, such as a decoder's.

    The decoder works ahead of those who use its frames. With equal shares of the cores it keeps
    its queue full, whose frames take memory (docs/performance.md). Linux only: elsewhere a thread
    has no niceness of its own.
    """
    if sys.platform == "linux":
        thread = threading.get_native_id()
        with suppress(OSError):
            os.setpriority(
                os.PRIO_PROCESS, thread, os.getpriority(os.PRIO_PROCESS, thread) + NICENESS
            )
