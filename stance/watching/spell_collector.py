"""Spells of waiting and of planted feet: found once over while the clip runs, observed closely.

A segment is what is observed of a player since the last spell was done with. Its crops are kept
until the feet move; then the spells in it are found and their crops observed closely. Which hand
holds the racket is known at the end only, so waiting spells are found for both.
"""

from bisect import bisect_left
from collections.abc import Container, Iterable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field, replace

import numpy as np

from stance.court.camera import Camera
from stance.measures.motion import correct_side_swaps, correct_strays, without_repeats
from stance.measures.planting import PLANTED_SPEED, find_planted_spells
from stance.measures.ready_positions import Spell, find_spells
from stance.people.floor import metres_per_pixel
from stance.people.player_state import Player, TrackId
from stance.people.pose_match import same_person
from stance.people.track import Track
from stance.types import Hand, IntArray
from stance.video.frame import Frame
from stance.watching.close_observer import (
    CloseObserver,
    SegmentObservations,
    SegmentSpells,
    SpellFrames,
)
from stance.watching.options import Effort
from stance.watching.player_crop import PlayerCrop, take_crop
from stance.watching.trackers import TrackedPlayer

# Feet that have not been planted for so long have left, seconds; a segment that lasts longer than
# so is closed then.
_LEFT_S, _SEGMENT_S = 0.06, 0.5

# All crops of the last so many seconds are kept, and so many earlier ones of one segment; so many
# times as many where every frame is observed.
_LATEST_S, _MOST_CROPS, _EVERY_FRAME = 0.5, 24, 20

# Segments that wait for close observations, at most: their crops take memory.
_MOST_WAITING = 2

# Spells are looked for at about so many times a second.
_SPELL_RATE = 60.0


@dataclass
class _Segment:
    """A player's observations since the last spell was done with.

    Attributes
    ----------
    first
        number of the first observation
    crops
        by frame
    planted_at
        when both feet were last planted, seconds
    """

    first: int = 0
    crops: dict[int, PlayerCrop] = field(default_factory=dict)
    planted_at: float = -np.inf


class SpellCollector:
    """Collects the spells of all players.

    Parameters
    ----------
    effort
        how much to observe
    observer
        that makes the close observations
    """

    def __init__(self, effort: Effort, observer: CloseObserver) -> None:
        self._most_crops = _MOST_CROPS * (1 if effort.rate is not None else _EVERY_FRAME)
        self._observer = observer
        self._segments: dict[TrackId, _Segment] = {}
        self._observed: dict[TrackId, list[Future[SegmentObservations]]] = {}

    def add(self, player: Player, frame: Frame) -> PlayerCrop | None:
        """Keep the crop of a player's last observation; None where there is none."""
        segment = self._segments.setdefault(player.track_id, _Segment())
        # Observations may have gone over to the partner.
        segment.first = min(segment.first, len(player.poses) - 1)
        pose = player.poses[-1]
        crop = None if pose is None else take_crop(frame, pose)
        if crop is not None:
            segment.crops[frame.index] = crop
        return crop

    def close_if_over(self, tracked: TrackedPlayer, at_end: bool = False) -> None:
        """Once a player's feet move, find the spells before and have them observed.

        Parameters
        ----------
        tracked
            the player
        at_end
            whether the clip is over, and so any spell
        """
        player = tracked.player
        segment = self._segments.get(player.track_id)
        if segment is None or len(player.poses) - segment.first < 2:
            return
        now = player.times[-1]
        if tracked.foot_speed < PLANTED_SPEED:
            segment.planted_at = now
        latest = bisect_left(player.times, now - _LATEST_S)
        is_planted = now - segment.planted_at < _LEFT_S
        lasts = now - player.times[segment.first] > _SEGMENT_S
        if not at_end and np.isfinite(segment.planted_at) and (is_planted or not lasts):
            _thin_out(segment.crops, player.frames[latest], self._most_crops)
            return
        if np.isfinite(segment.planted_at) or at_end:
            self._close(tracked, segment)
            segment.first, segment.planted_at = max(len(player.poses) - 2, 0), -np.inf
        segment.first = max(latest, segment.first)
        oldest = player.frames[latest]
        segment.crops = {f: crop for f, crop in segment.crops.items() if f >= oldest}

    def keep_only(self, track_ids: Container[TrackId]) -> None:
        """Let go of what was kept of those who are players no more."""
        for track_id in [known for known in self._segments if known not in track_ids]:
            del self._segments[track_id]
            self._observed.pop(track_id, None)

    def observed(self, player: Player) -> list[SegmentObservations]:
        """What was observed of a player's spells, in the clip's order."""
        return [made.result() for made in self._observed.get(player.track_id, [])]

    def _close(self, tracked: TrackedPlayer, segment: _Segment) -> None:
        """Find the spells of a segment; hand them over to be observed."""
        player, camera = tracked.player, tracked.camera
        spells = find_segment_spells(player.track(segment.first), camera, tracked.hands)
        if not spells.planted and not any(spells.waits.values()):
            return
        # An observation may since have been given to the partner.
        crops = {
            frame: replace(crop, pose=pose)
            for frame, crop in segment.crops.items()
            if (pose := player.pose_at(frame)) is not None and same_person(crop.pose, pose)
        }
        places = self._observed.setdefault(player.track_id, [])
        places.append(self._observer.observe_spells(spells, crops, camera))
        if len(places) > _MOST_WAITING:
            places[-_MOST_WAITING - 1].result()


def find_segment_spells(track: Track, camera: Camera, hands: Sequence[Hand]) -> SegmentSpells:
    """Find the spells in which a player is at rest or has both feet planted.

    Times of frames that were not observed lie on straight lines between those that were.

    Parameters
    ----------
    track
        of the player in the segment
    camera
        in the frame of the player's half
    hands
        that may hold the racket: "right", "left" or both
    """
    if track.seen.sum() < 2:
        return SegmentSpells({}, ())
    first, last = int(track.frames[0]), int(track.frames[-1])
    seconds = track.times[-1] - track.times[0]
    step = max(1, round((last - first) / max(seconds, 1e-6) / _SPELL_RATE))
    frames = np.unique(np.concatenate([np.arange(first, last + 1, step), track.frames]))
    times = np.interp(frames, track.frames, track.times)
    corrected = correct_side_swaps(track)
    filled = correct_strays(corrected).between(frames, times)
    scale = metres_per_pixel(camera, filled.pixels)

    def in_frames(spells: Iterable[Spell], frames: IntArray) -> tuple[SpellFrames, ...]:
        times = np.interp(frames, track.frames, track.times)
        return tuple(
            SpellFrames(
                int(frames[spell.start]),
                int(frames[spell.end]),
                float(times[spell.start]),
                float(times[spell.end]),
            )
            for spell in spells
        )

    pictures = without_repeats(corrected)
    distinct = np.setdiff1d(frames, np.setdiff1d(track.frames, pictures.frames))
    moving = pictures.between(distinct, np.interp(distinct, pictures.frames, pictures.times))
    return SegmentSpells(
        {hand: in_frames(find_spells(filled, scale, hand), frames) for hand in hands},
        in_frames(find_planted_spells(moving, metres_per_pixel(camera, moving.pixels)), distinct),
    )


def _thin_out(crops: dict[int, PlayerCrop], latest: int, most: int) -> None:
    """Leave out crops of before a frame where there are most of them."""
    earlier = np.array(sorted(frame for frame in crops if frame < latest))
    while len(earlier) > most:
        number = 1 + int(np.argmin(earlier[2:] - earlier[:-2]))
        del crops[int(earlier[number])]
        earlier = np.delete(earlier, number)
