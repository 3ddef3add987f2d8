"""The frames of the last moments: near enough to each other, and no older than needed."""

from stance.watching.frame_buffer import FrameBuffer
from tests.unit.watching.made_players import plain_frame


def filled(frames: int, rate: float, dense_rate: float = 30.0) -> FrameBuffer:
    """A buffer that was given so many frames."""
    buffer = FrameBuffer(7.5, dense_rate)
    for index in range(frames):
        buffer.add(plain_frame(index, rate))
    return buffer


def test_frames_that_are_never_observed_are_left_out() -> None:
    assert list(filled(20, 60.0).between(0, 19)) == list(range(0, 20, 2))
    assert list(filled(12, 30.0).between(0, 11)) == list(range(12))


def test_frames_older_than_an_observation_and_some_are_let_go() -> None:
    buffer = filled(100, 30.0)
    buffered = list(buffer.between(0, 99))
    # 0.3 s and 1 / 7.5 s before frame 99.
    assert buffered == list(range(buffered[0], 100))
    assert (99 - buffered[0]) / 30 <= 0.3 + 1 / 7.5 + 1e-9 < (99 - buffered[0] + 1) / 30


def test_an_observed_frame_is_kept_where_the_one_before_is_near() -> None:
    buffer = filled(20, 60.0)
    assert 19 not in buffer.between(0, 19)
    buffer.keep(buffer.latest)
    buffer.keep(buffer.latest)
    assert list(buffer.between(16, 19)) == [16, 18, 19]


def test_both_ends_of_a_range_are_given() -> None:
    assert list(filled(12, 30.0).between(3, 7)) == [3, 4, 5, 6, 7]


def test_nothing_is_held_once_cleared() -> None:
    buffer = filled(12, 30.0)
    buffer.clear()
    assert buffer.latest is None and not buffer.between(0, 11)
