"""Close observations of a player: the orientation and racket networks, in one thread."""

from collections.abc import Iterable, Mapping, Sequence
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
from stance.watching.player_crop import PASSING_QUALITY, PlayerCrop, compress_crop
from stance.watching.watched_clip import CompressedCrop, ObservedSpell

# Where in a spell the first observations are made, as shares of its frames.
_FIRST_SHARES = (0.5, 1 / 6, 5 / 6, 1 / 3, 2 / 3, 0.0, 1.0)


# Of planted feet, frames of the last so many seconds are observed: who is set for a stroke leaves a
# quarter of a second after it, and a slow step may hide that they left.
_BEFORE_LEAVING_S = 0.9

# Crops for pictures of contact and landing: so long before a spell and into it, so long before its
# end, seconds, and no nearer to each other than so.
_BEFORE_SPELL_S, _INTO_SPELL_S, _BEFORE_END_S, _PICTURE_STEP_S = 0.3, 0.2, 0.45, 0.095


@dataclass(frozen=True)
class SpellFrames:
    """Where a spell lies in the clip: first and last frame, and their times in seconds."""

    start_frame: int
    end_frame: int
    start_s: float
    end_s: float


@dataclass(frozen=True)
class SegmentSpells:
    """The spells of a segment of the clip: of waiting, for each hand, and of planted feet."""

    waits: Mapping[Hand, tuple[SpellFrames, ...]]
    planted: tuple[SpellFrames, ...]


@dataclass(frozen=True)
class SegmentObservations:
    """What close observations of a segment of the clip gave; fields as in `WatchedPlayer`."""

    spells: Mapping[Hand, tuple[ObservedSpell, ...]]
    planted: tuple[ObservedSpell, ...]
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
        spells: SegmentSpells,
        crops: Mapping[int, PlayerCrop],
        camera: Camera,
    ) -> Future[SegmentObservations]:
        """Have the spells of a segment observed, at as many frames as are needed.

        Parameters
        ----------
        spells
            of waiting and of planted feet
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
        self, spells: SegmentSpells, crops: Mapping[int, PlayerCrop], camera: Camera
    ) -> SegmentObservations:
        """Observe the spells of a segment."""
        observations: dict[int, Observation | None] = {}
        key_crops: dict[int, CompressedCrop] = {}

        def observe_all(some: Sequence[SpellFrames], hand: Hand) -> tuple[ObservedSpell, ...]:
            observed = []
            for spell in some:
                frames = spread_order(
                    sorted(f for f in crops if spell.start_frame <= f <= spell.end_frame)
                )
                # What was observed before need not be observed again.
                frames.sort(key=lambda frame: frame not in observations)
                used = self._observe_frames(frames, crops, observations, camera, hand)
                key = used[len(used) // 2] if used else spell.start_frame
                # Which of them is shown is known once the strokes are.
                for frame in used:
                    if frame not in key_crops:
                        key_crops[frame] = compress_crop(crops[frame])
                observed.append(ObservedSpell(**vars(spell), observed_frames=used, key_frame=key))
            return tuple(observed)

        waits = {hand: observe_all(some, hand) for hand, some in spells.waits.items()}
        ends = [_before_leaving(spell, crops) for spell in spells.planted]
        # Where both feet stand says the same for either hand.
        planted = observe_all(ends, next(iter(spells.waits)))
        whole = {spell.end_frame: spell for spell in spells.planted}
        planted = tuple(replace(end, **vars(whole[end.end_frame])) for end in planted)
        for spell in spells.planted:
            for frame in frames_for_pictures(spell, crops):
                if frame not in key_crops:
                    key_crops[frame] = compress_crop(crops[frame], PASSING_QUALITY)
        known = {frame: made for frame, made in observations.items() if made is not None}
        return SegmentObservations(waits, planted, known, key_crops)

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


def _before_leaving(spell: SpellFrames, crops: Mapping[int, PlayerCrop]) -> SpellFrames:
    """The end of a spell, in which it is observed; frames tell times by the spell's own pace."""
    pace = (spell.end_frame - spell.start_frame) / (spell.end_s - spell.start_s)
    start = max(spell.start_frame, spell.end_frame - round(_BEFORE_LEAVING_S * pace))
    is_shown = any(start <= frame <= spell.end_frame for frame in crops)
    return replace(spell, start_frame=start) if is_shown else spell


def frames_for_pictures(spell: SpellFrames, frames: Iterable[int]) -> list[int]:
    """Frames that show the stroke faced, the landing and the leaving, some ten a second.

    Parameters
    ----------
    spell
        with both feet planted
    frames
        that can be shown

    Returns
    -------
    In the clip's order
    """
    pace = (spell.end_frame - spell.start_frame) / (spell.end_s - spell.start_s)
    chosen: list[int] = []
    for frame in sorted(frames):
        time_s = spell.start_s + (frame - spell.start_frame) / pace
        about_landing = -_BEFORE_SPELL_S <= time_s - spell.start_s <= _INTO_SPELL_S
        about_leaving = -_BEFORE_END_S <= time_s - spell.end_s <= 0.0
        if (about_landing or about_leaving) and (
            not chosen or (frame - chosen[-1]) / pace >= _PICTURE_STEP_S
        ):
            chosen.append(frame)
    return chosen


def spread_order(frames: Sequence[int]) -> list[int]:
    """Frames in the order in which to observe them: spread evenly in time, however many are taken.

    Parameters
    ----------
    frames
        in the clip's order, some nearer to each other than others
    """
    ordered: list[int] = []
    if not frames:
        return ordered
    numbers = np.array(frames)
    for share in _FIRST_SHARES:
        wanted = numbers[0] + share * (numbers[-1] - numbers[0])
        frame = int(numbers[np.argmin(np.abs(numbers - wanted))])
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
