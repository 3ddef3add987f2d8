"""The frames of the last moments, which may still be observed."""

from collections import deque

from stance.video.frame import Frame

# Frames so far behind the latest stay, beside the time between two observations, seconds.
_BEHIND_S = 0.3

# A tenth of a frame of grace, seconds: times jitter by a tick or two.
JITTER_S = 0.002


class FrameBuffer:
    """The latest frames, no nearer to each other in time than they may be observed.

    Parameters
    ----------
    rate
        observations a second while tracking; None for every frame
    dense_rate
        most observations a second
    """

    def __init__(self, rate: float | None, dense_rate: float) -> None:
        self._frames: deque[Frame] = deque()
        self._step_s = 1.0 / dense_rate
        self._observation_step_s = 1.0 / (rate or 60.0)
        self.latest: Frame | None = None

    def add(self, frame: Frame) -> None:
        """Take the next frame of the clip, and let go of those that are too old."""
        self.latest = frame
        if not self._frames or frame.time_s >= self._frames[-1].time_s + self._step_s - JITTER_S:
            self._frames.append(frame)
        oldest = frame.time_s - _BEHIND_S - self._observation_step_s
        while self._frames and self._frames[0].time_s < oldest:
            self._frames.popleft()

    def keep(self, frame: Frame) -> None:
        """Keep the latest frame also where the one before is near: it is observed."""
        if self._frames[-1] is not frame:
            self._frames.append(frame)

    def between(self, first: int, last: int) -> dict[int, Frame]:
        """Frames from one number to another, both included, by number."""
        return {frame.index: frame for frame in self._frames if first <= frame.index <= last}

    def clear(self) -> None:
        """Let go of all frames."""
        self._frames.clear()
        self.latest = None
