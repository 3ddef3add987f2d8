"""The one pass over a clip: decode once, track, observe closely only where somebody is planted.

Some thirty times a second the players are tracked, and each spell in which one waits or has both
feet planted is observed closely while its frames are still at hand. So no frame is decoded twice,
and only what is observed is converted.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from stance.camera_motion.motion import CameraMotion
from stance.camera_motion.stabilising import stabilise_frame
from stance.camera_motion.standing import CameraStillnessCheck
from stance.runtime.cores import single_threaded_libraries
from stance.runtime.progress import Progress, Timings, no_progress
from stance.types import N_, FloatArray
from stance.video.frame import Frame
from stance.video.prefetch import prefetch
from stance.video.reader import read_frames
from stance.watching.options import DEFAULT_OPTIONS, ClipContext, WatchOptions
from stance.watching.player_watcher import PlayerWatcher
from stance.watching.watched_clip import Opponent, WatchedPlayer

_STAGE = N_("watching the players")

# Frames decoded ahead of their use, so that decoding does not wait for an observation: at most so
# many, and fewer where they hold more than so many bytes.
_AHEAD, _AHEAD_BYTES = 24, 100_000_000


class CameraMoved(Exception):
    """The camera was taken to stand all along, and does not."""


@dataclass(frozen=True)
class WatchResult:
    """What one pass over a clip gave.

    Attributes
    ----------
    motion
        how the camera moved
    times
        (frames,) seconds of all frames of the clip
    players
        those who count
    opponents
        who was followed on the half that is not measured
    """

    motion: CameraMotion
    times: FloatArray
    players: tuple[WatchedPlayer, ...]
    opponents: tuple[Opponent, ...]


def watch(
    clip: ClipContext,
    motion: CameraMotion | None = None,
    options: WatchOptions = DEFAULT_OPTIONS,
    progress: Progress = no_progress,
    timings: Timings | None = None,
) -> WatchResult:
    """Track the players through a clip and observe them closely where they wait.

    Parameters
    ----------
    clip
        the clip, and what is known of it
    motion
        of the clip's camera; only the part that it says is watched, without the sway. None to take
        the camera to stand, and to see on the way whether it does
    options
        whom to watch, and how
    progress
        told how far the work is
    timings
        adds up where the time goes

    Returns
    -------
    WatchResult

    Raises
    ------
    CameraMoved
        If the camera was taken to stand and does not.
    InputError
        If the clip can't be read.
    """
    timings = timings or Timings()
    times: list[float] = []
    stillness = CameraStillnessCheck(clip.image_size)
    with single_threaded_libraries():
        with PlayerWatcher(clip, options, timings) as watcher:
            frames = _decode(clip, options, timings)
            if motion is None:
                # In the thread that decodes, which mostly waits.
                frames = _check_stillness(frames, stillness, timings)
            for frame in prefetch(frames, _frames_ahead(clip.image_size)):
                times += [*frame.skipped_s, frame.time_s]
                progress(_STAGE, len(times), max(clip.expected_frames, len(times)))
                if stillness.moved:
                    raise CameraMoved
                steady = frame if motion is None else stabilise_frame(frame, motion)
                if steady is not None:
                    watcher.take(steady)
            motion = motion or stillness.motion()
            if motion is None:
                raise CameraMoved
            watcher.finish()
        return WatchResult(
            motion, np.array(times), watcher.players(len(times)), watcher.opponents(len(times))
        )


def _decode(clip: ClipContext, options: WatchOptions, timings: Timings) -> Iterator[Frame]:
    """The clip's frames, as many as are needed."""
    frames = read_frames(clip.path, options.workers, options.effort.rate or np.inf)
    return timings.each(frames, "decode")


def _frames_ahead(image_size: tuple[int, int]) -> int:
    """How many frames to decode ahead; one holds a byte and a half for each pixel."""
    width, height = image_size
    return int(np.clip(_AHEAD_BYTES // (1.5 * width * height), 4, _AHEAD))


def _check_stillness(
    frames: Iterator[Frame], stillness: CameraStillnessCheck, timings: Timings
) -> Iterator[Frame]:
    """Pass frames on once it has been seen whether the camera stands."""
    for frame in frames:
        with timings.of("camera"):
            stillness.take(frame)
        yield frame
