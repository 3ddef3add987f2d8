"""Items made in a thread come in order, and so does what goes wrong."""

import os
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from stance.errors import InputError
from stance.runtime.cores import NICENESS
from stance.video.prefetch import prefetch


def test_frames_made_ahead_come_in_order_and_so_does_what_goes_wrong():
    def broken():
        yield from range(5)
        raise InputError("The end is missing.")

    items = prefetch(broken(), 2)
    assert [next(items) for _ in range(5)] == [0, 1, 2, 3, 4]
    with pytest.raises(InputError, match="end"):
        next(items)


def niceness() -> int:
    return os.getpriority(os.PRIO_PROCESS, threading.get_native_id())


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux counts a thread's niceness")
def test_what_is_made_ahead_lets_its_user_go_first():
    def told():
        with ThreadPoolExecutor(1) as made_there:
            yield niceness()
            yield made_there.submit(niceness).result()

    before = niceness()
    wanted = min(before + NICENESS, 19)
    assert list(prefetch(told(), 2)) == [wanted, wanted]
    assert niceness() == before


def test_frames_made_ahead_stop_when_nobody_wants_them():
    made = []

    def endless():
        while True:
            made.append(len(made))
            yield made[-1]

    items = prefetch(endless(), 2)
    assert next(items) == 0
    items.close()
    count = len(made)
    assert count <= 6
    time.sleep(0.1)
    assert len(made) == count
