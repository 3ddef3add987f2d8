"""The track of one player through a clip."""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from stance.types import FloatArray

# Observations further apart than this are not joined by a straight line, seconds.
_LONGEST_STEP_S = 0.35


@dataclass(frozen=True)
class Track:
    """One player through the clip; NaN in the frames where the player was not seen.

    Attributes
    ----------
    frames
        (observations,) numbers of the frames in which the player was looked for
    times
        (observations,) seconds
    pixels
        (observations, 33, 2) pixels
    visibility
        (observations, 33) probability that the landmark is in view and not hidden
    world
        (observations, 33, 3) metres, landmarker's frame
    """

    frames: npt.NDArray[np.int_]
    times: FloatArray
    pixels: FloatArray
    visibility: FloatArray
    world: FloatArray

    def between(self, frames: npt.NDArray[np.int_], times: FloatArray) -> "Track":
        """Return the track at any frames, each on a straight line between two observations.

        These are the nearest ones in which the player was seen, so who was missed once, behind
        the partner or in a blur, is where the observations before and after say.

        Parameters
        ----------
        frames
            (frames,) numbers
        times
            (frames,) seconds

        Returns
        -------
        Track, NaN where an observation on either side is missing or they are too far apart
        """
        known = np.flatnonzero(self.seen)
        if not len(known):
            known = np.arange(len(self.frames))
        observed = self.frames[known]
        after = known[np.clip(np.searchsorted(observed, frames), 0, len(known) - 1)]
        before = known[np.maximum(np.searchsorted(observed, frames, side="right") - 1, 0)]
        exact = (self.frames[after] == frames) | (self.frames[before] == frames)
        step = self.times[after] - self.times[before]
        with np.errstate(invalid="ignore", divide="ignore"):
            share = np.where(step > 0, (times - self.times[before]) / step, 0.0)
        joined = exact | ((step > 0) & (step <= _LONGEST_STEP_S))
        share = np.where(joined, share, np.nan)

        def on_line(values: FloatArray) -> FloatArray:
            weight = share.reshape(-1, *[1] * (values.ndim - 1))
            with np.errstate(invalid="ignore"):
                line = values[before] + weight * (values[after] - values[before])
            same = (after == before).reshape(weight.shape)
            return np.asarray(np.where(same & np.isfinite(weight), values[before], line))

        return Track(
            frames, times, on_line(self.pixels), on_line(self.visibility), on_line(self.world)
        )

    @property
    def seen(self) -> npt.NDArray[np.bool_]:
        """(observations,) whether the player was seen."""
        return np.isfinite(self.pixels[:, 0, 0])


def frames_seen(track: Track) -> int:
    """Number of frames of the clip in which a player was seen, between observations included."""
    if not len(track.frames):
        return 0
    # One landmark of each observation tells; all of them, in each frame of ten minutes, fill
    # memory.
    single = replace(
        track,
        pixels=track.pixels[:, :1],
        visibility=track.visibility[:, :1],
        world=track.world[:, :1],
    )
    frames = np.arange(track.frames[0], track.frames[-1] + 1)
    return int(single.between(frames, np.interp(frames, track.frames, track.times)).seen.sum())
