"""Places for pictures: what is kept stays as it was, and places are used again."""

import gc
import sys
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from stance.runtime.buffer_pool import BufferPool

SIZES = st.tuples(st.integers(1, 400), st.integers(1, 400), st.just(3))


def picture_of(size: tuple[int, int, int], value: int) -> np.ndarray:
    return np.full(size, value, np.uint8)


def test_a_kept_part_holds_nothing_of_the_picture_it_was_cut_from() -> None:
    picture = np.random.default_rng(1).integers(0, 256, (60, 80, 3), np.uint8)
    part = picture[7:40, 11:52]
    kept, shown = BufferPool().keep(part), part.copy()
    assert not np.shares_memory(kept, picture)
    picture[:] = 0
    np.testing.assert_array_equal(kept, shown)


@given(st.lists(st.tuples(SIZES, st.booleans()), min_size=1, max_size=30))
def test_what_is_kept_stays_as_it_was_while_others_come_and_go(
    pictures: list[tuple[tuple[int, int, int], bool]],
) -> None:
    shelf = BufferPool()
    kept: dict[int, np.ndarray] = {}
    for number, (size, lets_go) in enumerate(pictures):
        kept[number] = shelf.keep(picture_of(size, number))
        if lets_go:
            del kept[min(kept)]
        for value, picture in kept.items():
            assert (picture == value).all()


def test_a_place_is_used_again_once_its_picture_is_gone_and_not_before() -> None:
    shelf = BufferPool()
    first = shelf.keep(picture_of((300, 300, 3), 1))
    place = first.ctypes.data
    assert shelf.keep(picture_of((300, 300, 3), 2)).ctypes.data != place
    view = first[10:20, ::2][::-1]
    del first
    gc.collect()
    others = [shelf.keep(picture_of((300, 300, 3), 3)) for _ in range(3)]
    assert all(other.ctypes.data != place for other in others)
    assert (view == 1).all()
    del view
    gc.collect()
    assert shelf.keep(picture_of((290, 300, 3), 4)).ctypes.data == place


def test_there_are_no_more_places_than_pictures_at_a_time() -> None:
    shelf = BufferPool()
    for side in range(100, 1100, 10):
        two = [shelf.keep(picture_of((side, side, 3), value)) for value in (1, 2)]
        del two
    gc.collect()
    assert len(shelf._free) == 2


def test_threads_never_get_the_same_place() -> None:
    shelf = BufferPool()

    def keeps_its_own(value: int) -> bool:
        kept = [shelf.keep(picture_of((40 + value, 40, 3), value)) for _ in range(4)]
        return all(bool((picture == value).all()) for picture in kept)

    interval = sys.getswitchinterval()
    sys.setswitchinterval(1e-6)
    try:
        with ThreadPoolExecutor(4) as pool:
            assert all(pool.map(keeps_its_own, [number % 200 for number in range(1000)]))
    finally:
        sys.setswitchinterval(interval)
