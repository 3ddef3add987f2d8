"""What is done with each frame of a clip: whom to observe in it, and how closely.

Those who are measured are tracked some thirty times a second, their opponents less often. What is
seen is handed to those who collect it: crops and spells, and rackets.
"""

from concurrent.futures import Future, ThreadPoolExecutor
from functools import partial
from types import TracebackType

import numpy as np

from stance.court.camera import Camera
from stance.people.observation import PoseModels, map_concurrently
from stance.people.player_state import Player
from stance.people.tracker import Tracker
from stance.runtime.cores import usable_cores
from stance.runtime.progress import Timings
from stance.types import Half
from stance.video.frame import Frame
from stance.watching.assumed_court import assume_court
from stance.watching.close_observer import CloseObserver
from stance.watching.options import ClipContext, WatchOptions
from stance.watching.racket_observer import RacketObserver
from stance.watching.spell_collector import SpellCollector
from stance.watching.trackers import (
    MainPlayer,
    TrackedPlayer,
    main_players,
    make_trackers,
    measured_halves,
)
from stance.watching.watched_clip import Opponent, WatchedPlayer

# A tenth of a frame of grace, seconds: times jitter by a tick or two.
_JITTER_S = 0.002

# Without a court, a camera is assumed from so many of a player's observations, and from no fewer
# than so many that show them.
_PROVISIONAL, _LEAST_PROVISIONAL = 60, 3

# Threads that run pose models, at most.
_MOST_WORKERS = 4


class PlayerWatcher:
    """Watches the players: to be given all frames in the clip's order, then asked for them.

    Parameters
    ----------
    clip
        the clip, and what is known of it
    options
        whom to watch, and how
    timings
        adds up where the time goes
    """

    def __init__(self, clip: ClipContext, options: WatchOptions, timings: Timings) -> None:
        effort = options.effort
        self._clip, self._options, self._timings = clip, options, timings
        self._latest: Frame | None = None
        self._due = self._opponents_due = -np.inf
        self._stepped: dict[Half, int] = {}
        self._stepping: dict[Half, Future[bool]] = {}
        self._workers = ThreadPoolExecutor(options.workers or min(usable_cores(), _MOST_WORKERS))
        self._beside = ThreadPoolExecutor(1)
        self._models = PoseModels(effort.model)
        self._trackers = make_trackers(clip, options, self._models, self._workers)
        self._observer = CloseObserver(effort, timings)
        self._spells = SpellCollector(effort, self._observer)
        self._rackets = RacketObserver(self._observer)
        # While the clip is opened and its first picture decoded.
        self._workers.submit(self._models.load, next(iter(self._trackers)))
        self._observer.load()

    def __enter__(self) -> "PlayerWatcher":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Let go of networks and frames: they take memory that players need."""
        self._observer.close()
        self._beside.shutdown(cancel_futures=True)
        self._workers.shutdown(cancel_futures=True)
        self._models.close()
        self._latest = None
        for tracker in self._trackers.values():
            tracker.release_frames()

    def take(self, frame: Frame) -> None:
        """Take the next frame of the clip, and observe it where that is due."""
        self._latest = frame
        rate = self._options.effort.rate
        if rate is None or frame.time_s >= self._due:
            self._observe(frame)
            self._due = frame.time_s + 1.0 / (rate or np.inf) - _JITTER_S

    def finish(self) -> None:
        """Observe the clip's last frame too, so that a track reaches its end; close what is open.

        When this returns, all spells have been observed.
        """
        latest = self._latest
        if latest is not None:
            self._opponents_due = -np.inf
            self._observe(latest)
        self._await_opponents()
        for half in self._measured_halves():
            tracker = self._trackers[half]
            for player in tracker.players:
                if (tracked := self._tracked(tracker, player)) is not None:
                    self._spells.close_if_over(tracked, at_end=True)
        self._observer.finish()

    def players(self, frames: int) -> tuple[WatchedPlayer, ...]:
        """The players who count, once finished: the near half's where it is not empty, or both's.

        Parameters
        ----------
        frames
            number of frames of the clip
        """
        players: list[WatchedPlayer] = []
        for half, tracker in self._trackers.items():
            if not players or self._options.half == "both":
                players += [
                    self._assemble_player(half, main) for main in main_players(tracker, frames)
                ]
        return tuple(players)

    def opponents(self, frames: int) -> tuple[Opponent, ...]:
        """Who was followed on the half that is not measured, once finished.

        Parameters
        ----------
        frames
            number of frames of the clip
        """
        measured = {player.half for player in self.players(frames)}
        return tuple(
            Opponent(half, main.track)
            for half, tracker in self._trackers.items()
            if half not in measured
            for main in main_players(tracker, frames)
        )

    def _observe(self, frame: Frame) -> None:
        """Track the players into a frame, opponents where due, and see to what follows from it."""
        with_opponents = frame.time_s >= self._opponents_due
        if with_opponents:
            step = self._options.effort.rate and 1.0 / self._options.effort.opponent_rate
            self._opponents_due = frame.time_s + (step or 0.0) - _JITTER_S
            self._await_opponents()
            self._forget_the_gone()
            self._start_opponents(frame)
        for half, tracker in self._trackers.items():
            # Whether the far half's players are measured is known after the near ones are observed.
            if half in self._measured_halves() and self._step_measured(half, frame):
                with self._timings.of("pose"):
                    follow_up = partial(self._follow_up, tracker, frame=frame)
                    map_concurrently(self._workers, follow_up, tracker.players)
        if with_opponents:
            self._start_opponents(frame)

    def _start_opponents(self, frame: Frame) -> None:
        """Track the opponents beside the players who are measured, who need not wait for them."""
        for half in self._trackers:
            if half not in self._stepping and half not in self._measured_halves():
                self._stepping[half] = self._beside.submit(self._step, half, frame, "opponents")

    def _await_opponents(self) -> None:
        """Wait until the opponents' last look is over."""
        for stepping in self._stepping.values():
            stepping.result()
        self._stepping.clear()

    def _forget_the_gone(self) -> None:
        """Let go of what was kept of those who are players no more."""
        track_ids = {p.track_id for tracker in self._trackers.values() for p in tracker.players}
        self._spells.keep_only(track_ids)
        self._rackets.keep_only(track_ids)

    def _step_measured(self, half: Half, frame: Frame) -> bool:
        """Track the players of a measured half into a frame; False where that was done before."""
        stepping = self._stepping.pop(half, None)
        if stepping is not None and stepping.result() and self._stepped[half] == frame.index:
            return True
        return self._step(half, frame, "find")

    def _step(self, half: Half, frame: Frame, work: str) -> bool:
        """Track the players of a half into a frame; False where that is done already."""
        if self._stepped.get(half) == frame.index:
            return False
        self._stepped[half] = frame.index
        with self._timings.of(work):
            self._trackers[half].step(frame)
        return True

    def _follow_up(self, tracker: Tracker, player: Player, frame: Frame) -> None:
        """Observe the racket, and the spell that is over, where due."""
        crop = self._spells.add(player, frame)
        # A hand that is given need not be seen.
        if crop is not None and self._options.hand is None:
            self._rackets.observe_if_due(player, crop)
        tracked = self._tracked(tracker, player)
        if tracked is not None:
            self._spells.close_if_over(tracked)

    def _measured_halves(self) -> tuple[Half, ...]:
        """Halves whose players are measured, as far as is known by now."""
        return measured_halves(self._trackers, self._options.half)

    def _tracked(self, tracker: Tracker, player: Player) -> TrackedPlayer | None:
        """A player with a camera; None where there is no court and too little to assume one."""
        camera = tracker.camera or self._provisional_camera(player)
        return None if camera is None else TrackedPlayer(player, camera, self._options.hands)

    def _provisional_camera(self, player: Player) -> Camera | None:
        """A camera assumed from one player so far."""
        track = player.track(max(len(player.poses) - _PROVISIONAL, 0))
        if track.seen.sum() < _LEAST_PROVISIONAL:
            return None
        assumed = assume_court(track, self._clip.image_size)
        return None if assumed is None else assumed.camera

    def _assemble_player(self, half: Half, main: MainPlayer) -> WatchedPlayer:
        """Put together what was seen of a player."""
        segments = self._spells.observed(main.player)
        return WatchedPlayer(
            half,
            main.track,
            spells={
                hand: tuple(s for segment in segments for s in segment.spells.get(hand, ()))
                for hand in self._options.hands
            },
            observations={f: o for segment in segments for f, o in segment.observations.items()},
            racket_log_odds=self._rackets.log_odds(main.player),
            key_crops={f: crop for segment in segments for f, crop in segment.key_crops.items()},
            planted=tuple(s for segment in segments for s in segment.planted),
        )
