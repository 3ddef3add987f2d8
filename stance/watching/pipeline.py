"""One pass over a clip: decode once, follow cheaply, look closely only where somebody waits.

A few times a second the players are followed; where one settles or leaves, the frames between are
looked at too; and each spell of waiting gets close looks while its frames are still at hand. So
no frame is decoded twice, and only what is looked at is converted. Which hand holds the
racket is known at the end only, so spells are found for both.
"""

from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path

import numpy as np
import numpy.typing as npt
from threadpoolctl import threadpool_limits

from stance.camera_motion.motion import CameraMotion
from stance.camera_motion.stabilising import laid_frame
from stance.camera_motion.standing import StandingCamera
from stance.court.assumed import assumed_camera
from stance.court.calibration import CalibratedCourt
from stance.court.camera import Camera, turned_180
from stance.measures.motion import Motion, motions_between, unmixed, without_strays
from stance.measures.racket import hand_patches
from stance.measures.ready_positions import find_spells
from stance.people.association import same_person
from stance.people.floor import metres_per_pixel
from stance.people.half_court import plays_on_half
from stance.people.landmarks import FEET, LEFT_SHOULDER, NOSE, RIGHT_SHOULDER, Pose
from stance.people.observation import PoseModels, cut_out, map_concurrently
from stance.people.player_state import Player, TrackId
from stance.people.track import Track
from stance.people.tracker import Tracker
from stance.runtime.buffer_pool import BufferPool
from stance.runtime.cores import single_threaded_opencv, usable_cores
from stance.runtime.malloc import trim_malloc
from stance.runtime.progress import Progress, Timings, no_progress
from stance.runtime.spill_file import SpillFile
from stance.types import HANDS, FloatArray
from stance.video.frame import Frame
from stance.video.prefetch import prefetched
from stance.video.reader import read_frames
from stance.watching.close_observation import CloseObservation, CloseObserver, PlayerCrop
from stance.watching.effort import QUICK, Effort
from stance.watching.watched_player import WatchedPlayer

# A half on which a player is seen in less than this part of the frames is taken as empty.
LEAST_SEEN = 0.2

# Frames decoded ahead of their use, so that decoding does not wait for a look: at most so many,
# and fewer where they hold more than so many bytes.
_AHEAD, _AHEAD_BYTES = 24, 100_000_000

# Frames behind it that may still be looked at, seconds.
_BEHIND = 0.3

# Glances a second that only ask whether a player has come to rest.
_GLANCES = 20.0

# The last looks while following are among so many, with those between.
_LATEST = 60

# Further apart than this, a quiet spell is over, seconds.
_SEGMENT_GAP = 0.4

# Cut-outs kept of one spell of waiting and of what is around it.
_MOST_CUTS = 24

# Cut-outs are this much larger than what the pose model sees, for the pictures in the report.
_CUT_FACTOR = 1.15

# In which hand a player's racket is, is seen in so many looks, this far apart in seconds, whatever
# the player does: while they wait the body often hides it.
_RACKET_LOOKS, _RACKET_STEP = 100, 0.25


@dataclass
class _Racket:
    """Looks at a player's racket so far, by frame, and when the next one is due, seconds."""

    looks: dict[int, tuple[Pose, Future[float]]] = field(default_factory=dict)
    due: float = -np.inf


@dataclass
class _Segment:
    """A player's looks since the last spell was done with."""

    first: int = 0
    cuts: dict[int, PlayerCrop] = field(default_factory=dict)
    quiet_at: float = -np.inf


def watch(
    clip: str | Path,
    motion: CameraMotion | None,
    image_size: tuple[int, int],
    expected_frames: int,
    camera: Camera | None,
    half: str | None = None,
    hand: str | None = None,
    effort: Effort = QUICK,
    progress: Progress = no_progress,
    timings: Timings | None = None,
    workers: int | None = None,
) -> tuple[CameraMotion, FloatArray, tuple[WatchedPlayer, ...]] | None:
    """Follow the players through a clip and look closely where they wait.

    Parameters
    ----------
    clip : path of the video
    motion : of the clip's camera; only the part that it says is looked at, without the sway. None
        to take the camera to stand, and to see on the way whether it does
    image_size : (width, height) of the clip's upright picture, pixels
    expected_frames : for the progress
    camera : of the marked or found court, in the near half's frame; None where there is none
    half : "near", "far", "both", or None for the near half and, where that is empty, the far one
    hand : racket hand of all players where it is given
    effort : how much to look at
    progress : told how far the work is
    timings : adds up where the time goes
    workers : threads that decode, and that look at poses; the result does not depend on it

    Returns
    -------
    how the camera moved; (frames,) seconds of all frames of the clip; the players. None where the
    camera was taken to stand and does not

    Raises
    ------
    InputError
        If the clip can't be read.
    OutputError
        If there is no room for a temporary file.
    """
    timings = timings or Timings()
    times: list[float] = []
    standing = StandingCamera(image_size)
    # Threads within one matrix or one small picture cost the cores' time and save none.
    with threadpool_limits(1, "blas"), single_threaded_opencv(), SpillFile() as aside:
        with _Pass(camera, image_size, half, hand, effort, timings, workers, aside) as run:
            held = int(np.clip(_AHEAD_BYTES // (1.5 * image_size[0] * image_size[1]), 4, _AHEAD))
            frames = timings.each(read_frames(clip, workers, effort.dense_rate), "decode")
            if motion is None:
                # In the thread that decodes, which mostly waits.
                frames = _seen_by(standing, frames, timings)
            for frame in prefetched(frames, held):
                times += [*frame.left_out, frame.time_s]
                progress("watching the players", len(times), max(expected_frames, len(times)))
                if standing.moved:
                    return None
                laid = frame if motion is None else laid_frame(frame, motion)
                if laid is not None:
                    run.take(laid)
            motion = motion or standing.motion()
            if motion is None:
                return None
            run.end()
        # What was put aside comes in the place of models and frames.
        trim_malloc()
        return motion, np.array(times), run.watched(np.array(times))


def _seen_by(
    standing: StandingCamera,
    frames: Iterator[Frame],
    timings: Timings,
) -> Iterator[Frame]:
    """Pass frames on once it has been seen whether the camera stands."""
    for frame in frames:
        with timings.of("camera"):
            standing.see(frame)
        yield frame


class _Pass:
    """The state of one pass."""

    def __init__(
        self,
        camera: Camera | None,
        image_size: tuple[int, int],
        half: str | None,
        hand: str | None,
        effort: Effort,
        timings: Timings,
        workers: int | None,
        aside: SpillFile,
    ) -> None:
        self._half = half
        self._hands = HANDS if hand is None else (hand,)
        self._effort = effort
        self._timings = timings
        self._size = image_size
        self._now: Frame | None = None
        # Frames that may still be looked at; those between are let go.
        self._recent: deque[Frame] = deque()
        self._held_s = 1.0 / effort.dense_rate
        self._due = -np.inf
        self._glance_due = -np.inf
        # Frames of the last looks while following.
        self._looked_at: deque[int] = deque(maxlen=4)
        self._segments: dict[TrackId, _Segment] = {}
        self._shelf = BufferPool()
        self._rackets: dict[TrackId, _Racket] = {}
        self._aside = aside
        # Where what was seen is put aside.
        self._done: dict[TrackId, list[Future[int]]] = {}
        self._open = ExitStack()
        count = workers or min(usable_cores(), 4)
        self._followers_pool = self._open.enter_context(ThreadPoolExecutor(count))
        # One thread, so one network, for the close looks.
        self._close_pool = self._open.enter_context(ThreadPoolExecutor(1))
        self._landmarkers = PoseModels(effort.model)
        self._open.callback(self._landmarkers.close)
        self._eyes = CloseObserver()
        halves = ("near", "far") if camera is not None else ("near",)
        self._followers = {
            name: Tracker(
                camera if name == "near" or camera is None else turned_180(camera),
                image_size,
                name,
                self._landmarkers,
                self._aside,
                self._followers_pool,
                may_rest=effort.rate is not None,
            )
            for name in halves
            if half in (None, "both", name) or camera is None
        }
        self._at_work = self._active()
        # While the clip is opened and its first picture decoded.
        self._followers_pool.submit(self._landmarkers.load, next(iter(self._followers)))
        self._close_pool.submit(self._eyes.load)

    def __enter__(self) -> "_Pass":
        return self

    def __exit__(self, kind: object, error: object, trace: object) -> None:
        for pool in (self._close_pool, self._followers_pool):
            pool.shutdown(cancel_futures=True)
        self._open.close()
        # Networks and frames take memory that is needed for what was put aside.
        self._now, self._eyes = None, CloseObserver()
        self._recent.clear()
        for follower in self._followers.values():
            follower.release_frames()

    def take(self, frame: Frame) -> None:
        """Take the next frame of the clip."""
        self._now = frame
        if not self._recent or frame.time_s >= self._recent[-1].time_s + self._held_s - 0.002:
            self._recent.append(frame)
        rate = self._effort.rate
        oldest = frame.time_s - _BEHIND - 1.0 / (rate or 60.0)
        while self._recent and self._recent[0].time_s < oldest:
            self._recent.popleft()
        if frame.time_s < self._due and (rate is None or not self._settled(frame)):
            return
        self._look(frame)
        if rate is not None:
            # A tenth of a frame of grace: times jitter by a tick or two.
            soon = any(follower.needs_frequent_frames for follower in self._at_work)
            rate = self._effort.dense_rate if soon else rate
            self._due = frame.time_s + 1.0 / rate - 0.002

    def _settled(self, frame: Frame) -> bool:
        """Whether somebody seems to have come to rest since the last look."""
        if frame.time_s < self._glance_due:
            return False
        self._glance_due = frame.time_s + 1.0 / _GLANCES - 0.002
        with self._timings.of("find"):
            return any([follower.somebody_settled(frame) for follower in self._at_work])

    def end(self) -> None:
        """Look at the clip's last frame too, so that a track reaches its end; close what is open.

        Spells that were handed over have been looked at afterwards.
        """
        if self._now is not None and self._now.index not in self._looked_at:
            self._look(self._now)
        for follower in self._followers.values():
            for player in follower.players:
                camera = follower.camera or self._provisional(player)
                segment = self._segments.get(player.track_id)
                if camera is not None and segment is not None:
                    self._close_if_over(player, segment, camera, player.times[-1], end=True)
        self._close_pool.shutdown()

    def _look(self, frame: Frame) -> None:
        """Look for all players in a frame and see to what follows from it."""
        self._looked_at.append(frame.index)
        if self._recent[-1] is not frame:
            self._recent.append(frame)
        for follower in self._followers.values():
            # Whether the far half is watched is known after the look at the near one.
            if follower not in self._active():
                follower.release_frames()
                continue
            with self._timings.of("find"):
                follower.step(frame)
            with self._timings.of("pose"):
                # Asked before the players' looks are added to, each in a thread of its own.
                clear = follower.players_apart
                map_concurrently(
                    self._followers_pool,
                    partial(self._tend, follower, clear=clear),
                    follower.players,
                )
        self._forget_others()
        self._at_work = self._active()

    def _forget_others(self) -> None:
        """Let go of what was kept of those who are players no more."""
        players = {p.track_id for follower in self._followers.values() for p in follower.players}
        for kept in (self._segments, self._rackets, self._done):
            for track_id in kept.keys() - players:
                del kept[track_id]

    def _active(self) -> list[Tracker]:
        """Followers at work: the far half is watched only while nobody is on the near one."""
        near, far = self._followers.get("near"), self._followers.get("far")
        if near is None or far is None or self._half == "both":
            return [f for f in (near, far) if f is not None]
        seen = max(
            (player.times_seen / max(len(player.poses), 1) for player in near.players), default=0.0
        )
        return [near] if seen >= LEAST_SEEN else [near, far]

    def _tend(self, follower: Tracker, player: Player, clear: bool) -> None:
        """Look at the frames in between where a player settles or leaves; close spells.

        With somebody else near, not `clear`, all of these frames are looked at.
        """
        segment = self._segments.setdefault(player.track_id, _Segment())
        # Looks may have gone over to the partner.
        segment.first = min(segment.first, len(player.poses) - 1)
        cut = self._keep_cut(segment, player, len(player.poses) - 1)
        # A hand that is given need not be seen.
        if cut is not None and len(self._hands) > 1:
            self._see_racket(self._rackets.setdefault(player.track_id, _Racket()), player, cut)
        camera = follower.camera or self._provisional(player)
        if camera is None:
            return
        if self._effort.rate is not None:
            self._fill(follower, player, segment, camera, clear)
        self._close_if_over(player, segment, camera, player.times[-1])

    def _fill(
        self, follower: Tracker, player: Player, segment: _Segment, camera: Camera, clear: bool
    ) -> None:
        """Look at the frames between the last looks but one where it matters when."""
        keys = self._last_keys(player)
        if len(keys) < 3 or any(player.poses[k] is None for k in keys[-3:-1]):
            return
        # The oldest step is not known right after the start.
        moved = [motion.largest for motion in self._motions(player, keys, camera)]
        before, this, after = (np.inf, *moved)[-3:]
        if not (
            (this < 1.0) != (before < 1.0) or (this < 1.0) != (after < 1.0) or 1.0 <= this < 2.0
        ):
            return
        first = keys[-3]
        start, end = player.frames[first], player.frames[keys[-2]]
        if keys[-2] != first + 1:
            return
        frames = {f.index: f for f in self._recent if start <= f.index <= end}
        known = len(player.poses)
        # Poses of a player at rest differ a little; a step between them would look like a motion.
        if not follower.note_rest(player, first, list(frames.values())):
            between = list(frames.values())[1:-1]
            if clear:
                self._look_between(follower, player, first, between, (before, after), camera)
            else:
                # Who is who is told better the more looks there are.
                follower.observe_between(player, first, between)
        for look in range(first + 1, first + 1 + len(player.poses) - known):
            self._keep_cut(segment, player, look, frames.get(player.frames[look]))

    def _look_between(
        self,
        follower: Tracker,
        player: Player,
        first: int,
        frames: Sequence[Frame],
        beside: tuple[float, float],
        camera: Camera,
    ) -> None:
        """Look at frames between two looks: the middle one, and on where rest and motion meet.

        Parameters
        ----------
        follower, player : whose looks
        first : number of the look before the frames
        frames : between that look and the next, in the clip's order
        beside : how much the player moved in the steps before and after these two looks
        camera : Camera
        """
        if not frames:
            return
        middle, known = len(frames) // 2, len(player.poses)
        follower.observe_between(player, first, frames[middle : middle + 1])
        if len(player.poses) == known:
            return
        before, after = beside
        one, two = (
            motion.largest for motion in self._motions(player, range(first, first + 3), camera)
        )
        if two >= 1.0 > min(one, after):
            self._look_between(
                follower, player, first + 1, frames[middle + 1 :], (one, after), camera
            )
        if one >= 1.0 > min(before, two):
            self._look_between(follower, player, first, frames[:middle], (before, two), camera)

    def _last_keys(self, player: Player) -> list[int]:
        """Numbers of the last four looks that were made while following."""
        latest = player.frames[-_LATEST:]
        earlier = len(player.frames) - len(latest)
        return [earlier + latest.index(frame) for frame in self._looked_at if frame in latest]

    def _motions(self, player: Player, looks: Sequence[int], camera: Camera) -> list[Motion]:
        """How much a player moved from each of some looks to the next."""
        poses = [player.poses[look] for look in looks]
        pixels = np.array(
            [np.full((33, 2), np.nan) if pose is None else pose.pixels for pose in poses]
        )
        times = np.array([player.times[look] for look in looks])
        return motions_between(pixels, times, metres_per_pixel(camera, pixels), self._hands)

    def _keep_cut(
        self, segment: _Segment, player: Player, look: int, frame: Frame | None = None
    ) -> PlayerCrop | None:
        """Keep the part of a frame around a player for a close look later."""
        pose = player.poses[look]
        if pose is None:
            return None
        frame = frame or self._now
        assert frame is not None
        part = cut_out(frame, pose.box, _CUT_FACTOR)
        if part is None:
            return None
        image, left, top = part
        # A view would keep all that was converted with it, 30 MB over two players' spells.
        cut = PlayerCrop(self._shelf.keep(image), left, top, pose)
        segment.cuts[player.frames[look]] = cut
        return cut

    def _see_racket(self, racket: _Racket, player: Player, cut: PlayerCrop) -> None:
        """Have it seen in which hand the racket is in a player's last look, if that is due."""
        if player.times[-1] < racket.due or len(racket.looks) == _RACKET_LOOKS:
            return
        racket.due = player.times[-1] + _RACKET_STEP
        patches = hand_patches(cut.image, cut.pose.moved(-cut.left, -cut.top))
        look = self._close_pool.submit(self._eyes.see_racket, patches, self._timings)
        racket.looks[player.frames[-1]] = cut.pose, look

    def _close_if_over(
        self, player: Player, segment: _Segment, camera: Camera, now: float, end: bool = False
    ) -> None:
        """Once a player clearly moves, find the spells before and have them looked at."""
        if len(player.poses) - segment.first < 2:
            return
        if self._motions(player, (-2, -1), camera)[0].leaving < 1.0:
            segment.quiet_at = now
        if not end and now - segment.quiet_at <= _SEGMENT_GAP:
            self._thin(segment)
            return
        if np.isfinite(segment.quiet_at) or end:
            self._close(player, segment, camera)
            self._segments[player.track_id] = _Segment(max(len(player.poses) - 2, 0))
        else:
            # Nothing but motion so far: only the latest looks may be the start of a spell.
            segment.first = max(len(player.poses) - 6, segment.first)
            oldest = player.frames[segment.first]
            segment.cuts = {f: cut for f, cut in segment.cuts.items() if f >= oldest}

    def _thin(self, segment: _Segment) -> None:
        """Leave out cut-outs where there are most of them."""
        most = _MOST_CUTS if self._effort.rate is not None else 20 * _MOST_CUTS
        while len(segment.cuts) > most:
            frames = np.array(sorted(segment.cuts))
            del segment.cuts[int(frames[1 + np.argmin(frames[2:] - frames[:-2])])]

    def _close(self, player: Player, segment: _Segment, camera: Camera) -> None:
        """Find the spells of a segment for each hand; hand them over to be looked at."""
        track = player.track(segment.first)
        if track.seen.sum() < 2:
            return
        frames, times = self._all_frames(track)
        filled = without_strays(unmixed(track)).between(frames, times)
        scale = metres_per_pixel(camera, filled.pixels)
        spells = {
            hand: tuple(
                (
                    int(frames[s.start]),
                    int(frames[s.end]),
                    float(times[s.start]),
                    float(times[s.end]),
                )
                for s in find_spells(filled, scale, hand)
            )
            for hand in self._hands
        }
        if not any(spells.values()):
            return
        # A look may since have been given to the partner.
        cuts = {
            frame: replace(cut, pose=pose)
            for frame, cut in segment.cuts.items()
            if (pose := player.pose_at(frame)) is not None and same_person(cut.pose, pose)
        }
        jobs = self._done.setdefault(player.track_id, [])
        jobs.append(self._close_pool.submit(self._look_closely, spells, cuts, camera))
        if len(jobs) > 2:
            jobs[-3].result()

    def _look_closely(
        self,
        spells: Mapping[str, Sequence[tuple[int, int, float, float]]],
        cuts: Mapping[int, PlayerCrop],
        camera: Camera,
    ) -> int:
        """Look closely at the spells of a segment; returns where what was seen is put aside."""
        return self._aside.put(
            self._eyes.look_at(spells, cuts, camera, self._effort, self._timings)
        )

    def _all_frames(self, track: Track) -> tuple[npt.NDArray[np.int_], FloatArray]:
        """Numbers and times of frames from a track's first look to its last.

        Times of frames that were not looked at lie on straight lines between those that were.
        """
        first, last = int(track.frames[0]), int(track.frames[-1])
        seconds = track.times[-1] - track.times[0]
        step = max(1, round((last - first) / max(seconds, 1e-6) / 60.0))
        frames = np.unique(np.concatenate([np.arange(first, last + 1, step), track.frames]))
        return frames, np.interp(frames, track.frames, track.times)

    def _provisional(self, player: Player) -> Camera | None:
        """A camera assumed from one player so far, where there is no court."""
        track = player.track(max(len(player.poses) - 60, 0))
        return assume(track, self._size).camera if track.seen.sum() >= 3 else None

    def watched(self, times: FloatArray) -> tuple[WatchedPlayer, ...]:
        """The players who count, after `end`: the far half's where asked for, or nobody is near."""
        watched: list[WatchedPlayer] = []
        for follower in self._followers.values():
            if not watched or self._half == "both":
                watched += [
                    self._put_together(follower, player, track)
                    for player, track in self._main_players(follower, len(times))
                ]
        return tuple(watched)

    def _main_players(self, follower: Tracker, frames: int) -> list[tuple[Player, Track]]:
        """The players seen most, at most two, each in a fifth of the clip."""
        tracks = [(player, player.track()) for player in follower.players]
        seen = [
            (player, track, frames_seen(track))
            for player, track in tracks
            if follower.camera is None or plays_on_half(follower.camera, track)
        ]
        most = sorted(seen, key=lambda one: (-one[2], one[0].frames[0]))[:2]
        return [(player, track) for player, track, count in most if count >= LEAST_SEEN * frames]

    def _put_together(self, follower: Tracker, player: Player, track: Track) -> WatchedPlayer:
        """Put together what was seen of a player."""
        seen: list[CloseObservation] = [
            self._aside.get(job.result()) for job in self._done.get(player.track_id, [])
        ]
        rackets = self._rackets.get(player.track_id, _Racket()).looks
        return WatchedPlayer(
            follower.half,
            track,
            {
                hand: tuple(w for part in seen for w in part.waiting.get(hand, ()))
                for hand in self._hands
            },
            {frame: look for part in seen for frame, look in part.looks.items()},
            # A look may since have been given to the partner.
            {
                frame: look.result()
                for frame, (of, look) in rackets.items()
                if (pose := player.pose_at(frame)) is not None and same_person(of, pose)
            },
            {frame: cut for part in seen for frame, cut in part.pictures.items()},
        )


def frames_seen(track: Track) -> int:
    """Number of frames of the clip in which a player was seen, between looks included."""
    if not len(track.frames):
        return 0
    # One landmark of each look tells; all of them, in each frame of ten minutes, fill memory.
    single = replace(
        track,
        pixels=track.pixels[:, :1],
        visibility=track.visibility[:, :1],
        world=track.world[:, :1],
    )
    frames = np.arange(track.frames[0], track.frames[-1] + 1)
    return int(single.between(frames, np.interp(frames, track.frames, track.times)).seen.sum())


def assume(track: Track, size: tuple[int, int]) -> CalibratedCourt:
    """Assume a camera from the place and size of the player in the middle of what was seen."""
    seen = np.flatnonzero(track.seen)
    pixels = track.pixels[seen]
    feet = pixels[:, FEET].mean(axis=1)
    middle = int(np.argmin(np.abs(feet - np.median(feet, axis=0)).sum(axis=-1)))
    away = np.median(pixels[:, RIGHT_SHOULDER, 0] - pixels[:, LEFT_SHOULDER, 0]) > 0
    # The crown of the head is above the nose by about a seventh of the height nose to feet.
    nose = pixels[middle, NOSE]
    head = nose + (nose - feet[middle]) / 7.0
    return assumed_camera(feet[middle], head, size, facing="away" if away else "towards")
