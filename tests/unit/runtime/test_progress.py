"""Time counts to the stage that took it, over all threads."""

import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from types import SimpleNamespace

import pytest

from stance.runtime import progress
from stance.runtime.progress import Timings


class Clock:
    """Seconds that pass for a thread only when it says so."""

    def __init__(self) -> None:
        self._own = threading.local()

    def __call__(self) -> float:
        return getattr(self._own, "seconds", 0.0)

    def wait(self, seconds: float) -> None:
        self._own.seconds = self() + seconds


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    clock = Clock()
    monkeypatch.setattr(progress, "time", SimpleNamespace(perf_counter=clock))
    return clock


def test_time_adds_up_over_threads(clock: Clock) -> None:
    timings = Timings()

    def work(seconds: float) -> None:
        with timings.of("pose"):
            clock.wait(seconds)

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(work, range(8)))
    assert timings.seconds == {"pose": sum(range(8))}


def test_time_counts_when_something_fails(clock: Clock) -> None:
    timings = Timings()
    with pytest.raises(ValueError, match="failed"), timings.of("find"):
        clock.wait(2.0)
        raise ValueError("failed")
    assert timings.seconds == {"find": 2.0}


def test_what_is_done_with_an_item_does_not_count_to_making_it(clock: Clock) -> None:
    def made() -> Iterator[int]:
        for number in range(3):
            clock.wait(1.0)
            yield number

    timings, used = Timings(), []
    for item in timings.each(made(), "decode"):
        clock.wait(10.0)
        used.append(item)
    assert used == [0, 1, 2]
    assert timings.seconds == {"decode": 3.0}
