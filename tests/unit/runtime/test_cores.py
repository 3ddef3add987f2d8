"""Processors and threads: what is set for a while is set back."""

import os
import sys
from concurrent.futures import ThreadPoolExecutor

import cv2
import pytest
from threadpoolctl import threadpool_info, threadpool_limits

from stance.runtime.cores import single_threaded_libraries, usable_cores


def blas_threads() -> set[int]:
    """How many threads each BLAS that is loaded has."""
    return {one["num_threads"] for one in threadpool_info() if one["user_api"] == "blas"}


def test_opencv_and_blas_have_one_thread_for_a_while() -> None:
    before = cv2.getNumThreads()
    cv2.setNumThreads(3)
    try:
        with threadpool_limits(2, "blas"):
            with pytest.raises(ValueError, match="failed"), single_threaded_libraries():
                assert cv2.getNumThreads() == 1
                assert blas_threads() == {1}
                raise ValueError("failed")
            assert cv2.getNumThreads() == 3
            assert blas_threads() == {2}
    finally:
        cv2.setNumThreads(before)


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux keeps a process to a core")
def test_cores_that_this_process_may_not_use_do_not_count() -> None:
    def count_on_one() -> int:
        os.sched_setaffinity(0, sorted(os.sched_getaffinity(0))[:1])
        return usable_cores()

    # Linux keeps each thread to cores of its own.
    with ThreadPoolExecutor(1) as pool:
        assert pool.submit(count_on_one).result() == 1
    assert usable_cores() == len(os.sched_getaffinity(0))
