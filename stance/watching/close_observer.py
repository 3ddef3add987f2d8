"""Close observations of a player: the orientation and racket networks, in one thread."""

from collections.abc import Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from stance.court.camera import Camera
from stance.measures.orientation import Observation, OrientationNetwork, observe
from stance.measures.racket import RacketNetwork
from stance.measures.stance_measures import measure
from stance.runtime.progress import Timings
from stance.statistics.angles import wrap_degrees
from stance.types import Hand, ImageArray
from stance.watching.options import Effort
from stance.watching.player_crop import PlayerCrop, compress_crop
from stance.watching.watched_clip import CompressedCrop, WaitingSpell

# Where in a spell the first observations are made, as shares of its frames.
_FIRST_SHARES = (0.5, 1 / 6, 5 / 6, 1 / 3, 2 / 3, 0.0, 1.0)


@dataclass(frozen=True)
class SpellFrames:
    """Where a waiting spell lies in the clip: first and last frame, and their times in seconds."""

    start_frame: int
    end_frame: int
    start_s: float
    end_s: float


@dataclass(frozen=True)
class SegmentObservations:
    """What close observations of a segment of the clip gave; fields as in `WatchedPlayer`."""

    spells: Mapping[Hand, tuple[WaitingSpell, ...]]
    observations: Mapping[int, Observation]
    key_crops: Mapping[int, CompressedCrop]


class _Networks:
    """The networks, each loaded when it is first used."""

    @cached_property
    def orientation(self) -> OrientationNetwork:
        """Tells where hips, shoulders and feet point."""
        return OrientationNetwork()

    @cached_property
    def racket(self) -> RacketNetwork:
        """Tells in which hand the racket is."""
        return RacketNetwork()


class CloseObserver:
    """Makes close observations one after the other in a thread of its own, so with one network.

    Parameters
    ----------
    effort
        how many close observations of a spell to make
    timings
        adds up where the time goes
    """

    def __init__(self, effort: Effort, timings: Timings) -> None:
        self._effort = effort
        self._timings = timings
        self._networks = _Networks()
        self._thread = ThreadPoolExecutor(1)

    def load(self) -> None:
        """Start to load the orientation network."""
        self._thread.submit(lambda: self._networks.orientation)

    def observe_spells(
        self,
        spells: Mapping[Hand, Sequence[SpellFrames]],
        crops: Mapping[int, PlayerCrop],
        camera: Camera,
    ) -> Future[SegmentObservations]:
        """Have the spells of a segment observed, at as many frames as are needed.

        Parameters
        ----------
        spells
            for each hand that may hold the racket
        crops
            of the player, by frame
        camera
            in the frame of the player's half

        Returns
        -------
        What was observed, once it is
        """
        return self._thread.submit(self._observed_segment, spells, crops, camera)

    def observe_racket(self, patches: ImageArray) -> Future[float]:
        """Have the squares around a player's hands observed, as `RacketNetwork.predict` does."""
        return self._thread.submit(self._racket_log_odds, patches)

    def finish(self) -> None:
        """Wait until all is observed; no more can be asked for."""
        self._thread.shutdown()

    def close(self) -> None:
        """Give up what is not observed yet, and let go of the networks."""
        self._thread.shutdown(cancel_futures=True)
        self._networks = _Networks()

    def _racket_log_odds(self, patches: ImageArray) -> float:
        """Tell in which hand the racket is."""
        with self._timings.of("pose"):
            return self._networks.racket.predict(patches)

    def _observed_segment(
        self,
        spells: Mapping[Hand, Sequence[SpellFrames]],
        crops: Mapping[int, PlayerCrop],
        camera: Camera,
    ) -> SegmentObservations:
        """Observe the spells of a segment."""
        observations: dict[int, Observation | None] = {}
        key_crops: dict[int, CompressedCrop] = {}
        observed_spells = {}
        for hand, spells_of_hand in spells.items():
            observed = []
            for spell in spells_of_hand:
                frames = spread_order(
                    sorted(f for f in crops if spell.start_frame <= f <= spell.end_frame)
                )
                # What was observed for the other hand need not be observed again.
                frames.sort(key=lambda frame: frame not in observations)
                used = self._observe_frames(frames, crops, observations, camera, hand)
                if not used:
                    continue
                key = used[len(used) // 2]
                if key not in key_crops:
                    key_crops[key] = compress_crop(crops[key])
                observed.append(WaitingSpell(**vars(spell), observed_frames=used, key_frame=key))
            observed_spells[hand] = tuple(observed)
        known = {frame: made for frame, made in observations.items() if made is not None}
        return SegmentObservations(observed_spells, known, key_crops)

    def _observe_frames(
        self,
        frames: Sequence[int],
        crops: Mapping[int, PlayerCrop],
        observations: dict[int, Observation | None],
        camera: Camera,
        hand: Hand,
    ) -> tuple[int, ...]:
        """Observe frames in turn until the measures scatter little; those that gave any, sorted.

        What is observed is added to `observations`.
        """
        used: list[int] = []
        angles: list[tuple[float, float]] = []
        for frame in frames[: self._effort.most_observations]:
            if (
                len(used) >= self._effort.observations
                and scatter_of_mean(angles) <= self._effort.scatter_deg
            ):
                break
            if frame not in observations:
                with self._timings.of("pose"):
                    observations[frame] = self._observe(crops[frame], camera)
            observation = observations[frame]
            if observation is None:
                continue
            with self._timings.of("measure"):
                found = measure(camera, observation, hand)
            if found is not None:
                used.append(frame)
                angles.append((found.lead_angle[0], found.hip_yaw[0]))
        return tuple(sorted(used))

    def _observe(self, crop: PlayerCrop, camera: Camera) -> Observation | None:
        """Observe a crop closely; the observation's pixels are the whole picture's."""
        shift = np.array([[1.0, 0.0, -crop.left], [0.0, 1.0, -crop.top], [0.0, 0.0, 1.0]])
        crop_camera = replace(camera, matrix=shift @ camera.matrix)
        observation = observe(
            self._networks.orientation, crop.image, crop.pose_in_crop, crop_camera
        )
        return None if observation is None else observation.moved(crop.left, crop.top)


def spread_order(frames: Sequence[int]) -> list[int]:
    """Frames in the order in which to observe them: spread evenly, however many are taken.

    Parameters
    ----------
    frames
        in the clip's order
    """
    ordered: list[int] = []
    if not frames:
        return ordered
    for share in _FIRST_SHARES:
        frame = frames[min(int(share * len(frames)), len(frames) - 1)]
        if frame not in ordered:
            ordered.append(frame)
    return ordered + [frame for frame in frames if frame not in ordered]


def scatter_of_mean(angles: Sequence[tuple[float, float]]) -> float:
    """Largest standard error of the means of angles, from their scatter alone.

    Parameters
    ----------
    angles
        lead angle and hip yaw of each observation, degrees; two or more observations

    Returns
    -------
    Degrees, the standard deviation with n - 1 over the root of n
    """
    values = np.array(angles)
    apart = wrap_degrees(values - values[0])
    return float((apart.std(axis=0, ddof=1) / np.sqrt(len(values))).max())
