"""Close looks at a player: orientation and racket networks, in one thread."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import cv2
import numpy as np

from stance.court.camera import Camera
from stance.measures.orientation import Observation, OrientationNetwork, observe
from stance.measures.racket import RacketNetwork
from stance.measures.stance_measures import measure
from stance.people.landmarks import Pose
from stance.runtime.progress import Timings
from stance.types import ImageArray
from stance.watching.effort import Effort
from stance.watching.watched_player import CompressedCrop, WaitingSpell

_JPEG_QUALITY = 95


@dataclass(frozen=True)
class PlayerCrop:
    """The part of a frame around a player: its top left corner in the picture, and the pose."""

    image: ImageArray
    left: int
    top: int
    pose: Pose


@dataclass(frozen=True)
class CloseObservation:
    """What close looks at a segment gave."""

    waiting: Mapping[str, tuple[WaitingSpell, ...]]
    looks: Mapping[int, Observation]
    pictures: Mapping[int, CompressedCrop]


class CloseObserver:
    """The close looks, made one after the other in a thread of their own."""

    @cached_property
    def _reader(self) -> OrientationNetwork:
        """Reads portraits."""
        return OrientationNetwork()

    @cached_property
    def _racket_reader(self) -> RacketNetwork:
        """Sees in which hand the racket is."""
        return RacketNetwork()

    def load(self) -> None:
        """Load what reads portraits."""
        _ = self._reader

    def look_at(
        self,
        spells: Mapping[str, Sequence[tuple[int, int, float, float]]],
        cuts: Mapping[int, PlayerCrop],
        camera: Camera,
        effort: Effort,
        timings: Timings,
    ) -> CloseObservation:
        """Look closely at the spells of a segment, at as many frames as are needed."""
        looks: dict[int, Observation | None] = {}
        pictures: dict[int, CompressedCrop] = {}
        waiting = {}
        for hand, some in spells.items():
            found = []
            for start, end, start_s, end_s in some:
                frames = _order(sorted(f for f in cuts if start <= f <= end))
                # What was looked at for the other hand need not be looked at again.
                frames.sort(key=lambda f: f not in looks)
                used = self._looked(frames, cuts, looks, camera, hand, effort, timings)
                if not used:
                    continue
                key = used[len(used) // 2]
                if key not in pictures:
                    pictures[key] = _compressed(cuts[key])
                found.append(WaitingSpell(start, end, start_s, end_s, tuple(used), key))
            waiting[hand] = tuple(found)
        known = {f: look for f, look in looks.items() if look is not None}
        return CloseObservation(waiting, known, pictures)

    def see_racket(self, patches: ImageArray, timings: Timings) -> float:
        """See in which hand the racket is, from the squares around the hands."""
        with timings.of("pose"):
            return self._racket_reader.read(patches)

    def _looked(
        self,
        frames: Sequence[int],
        cuts: Mapping[int, PlayerCrop],
        looks: dict[int, Observation | None],
        camera: Camera,
        hand: str,
        effort: Effort,
        timings: Timings,
    ) -> list[int]:
        """Look at frames in turn until the measures scatter little; those that gave any."""
        used: list[int] = []
        angles: list[tuple[float, float]] = []
        for frame in frames[: effort.most_observations]:
            if len(used) >= effort.observations and _scatter(angles) <= effort.scatter_deg:
                break
            if frame not in looks:
                with timings.of("pose"):
                    looks[frame] = self._look(cuts[frame], camera)
            look = looks[frame]
            if look is None:
                continue
            with timings.of("measure"):
                found = measure(camera, look, hand)
            if found is not None:
                used.append(frame)
                angles.append((found.lead_angle[0], found.hip_yaw[0]))
        return sorted(used)

    def _look(self, cut: PlayerCrop, camera: Camera) -> Observation | None:
        """Look closely at a cut-out; the look's pixels are the whole picture's."""
        shift = np.array([[1.0, 0.0, -cut.left], [0.0, 1.0, -cut.top], [0.0, 0.0, 1.0]])
        of_cut = replace(camera, matrix=shift @ camera.matrix)
        look = observe(self._reader, cut.image, cut.pose.moved(-cut.left, -cut.top), of_cut)
        return None if look is None else look.moved(cut.left, cut.top)


def _scatter(angles: Sequence[tuple[float, float]]) -> float:
    """Largest standard error of mean angles, degrees, from their scatter alone."""
    values = np.array(angles)
    apart = (values - values[0] + 180.0) % 360.0 - 180.0
    return float((apart.std(axis=0, ddof=1) / np.sqrt(len(values))).max())


def _order(frames: Sequence[int]) -> list[int]:
    """Frames in the order in which to look at them: spread evenly, however many are taken."""
    left = list(frames)
    ordered: list[int] = []
    if not left:
        return ordered
    for share in (0.5, 1 / 6, 5 / 6, 1 / 3, 2 / 3, 0.0, 1.0):
        frame = left[min(int(share * len(left)), len(left) - 1)]
        if frame not in ordered:
            ordered.append(frame)
    return ordered + [f for f in left if f not in ordered]


def _compressed(cut: PlayerCrop) -> CompressedCrop:
    """Compress a cut-out."""
    quality = [cv2.IMWRITE_JPEG_QUALITY, _JPEG_QUALITY]
    _, data = cv2.imencode(".jpg", cv2.cvtColor(cut.image, cv2.COLOR_RGB2BGR), quality)
    return CompressedCrop(data.tobytes(), cut.left, cut.top)
