"""What a tracker works with, and what it knows while it follows the players of a half."""

from collections import deque
from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field

import numpy as np

from stance.court.camera import Camera
from stance.people.association import assign_candidates
from stance.people.candidates import Candidate, distinct_candidates
from stance.people.half_court import MOST_PLAYERS
from stance.people.landmarks import Box
from stance.people.motion_search import MotionSearch
from stance.people.observation import PoseModels
from stance.people.player_state import Player, TrackId
from stance.people.search_boxes import search_boxes
from stance.people.settings import SETTINGS
from stance.people.stillness import EmptyPlaces
from stance.types import Half
from stance.video.frame import Frame


@dataclass(frozen=True)
class TrackerContext:
    """What a tracker works with.

    Attributes
    ----------
    camera
        in the frame of the half; without it the one largest person is followed
    image_size
        (width, height) pixels
    half
        "near" or "far"
    models
        of the run
    workers
        observe players at the same time; what they find does not depend on it
    may_rest
        whether a player whose square has not changed keeps the pose unobserved
    """

    camera: Camera | None
    image_size: tuple[int, int]
    half: Half
    models: PoseModels
    workers: Executor
    may_rest: bool

    @property
    def most_players(self) -> int:
        """How many players there may be."""
        return 1 if self.camera is None else MOST_PLAYERS


@dataclass
class SearchState:
    """When somebody was searched, and what came of it.

    Attributes
    ----------
    everywhere
        squares that cover the half, or without a court the picture
    motion
        tells where something moves; None without a court
    pause_s, due_s
        between searches for a missing player; when the next one is due
    whole_pause_s, whole_due_s
        the same for searches of the whole half
    behind_pause_s, behind_due_s, behind_tries
        the same for somebody behind those who are seen, and how often that was tried
    suspected
        squares where something moved and nobody was seen, to be looked at once more
    empty
        where something seems to move and nobody was seen
    """

    everywhere: tuple[Box, ...]
    motion: MotionSearch | None
    pause_s: float = SETTINGS.search.pause_s
    due_s: float = 0.0
    whole_pause_s: float = SETTINGS.search.whole_pause_s
    whole_due_s: float = 0.0
    behind_pause_s: float = SETTINGS.search.behind_pause_s
    behind_due_s: float = 0.0
    behind_tries: int = 0
    suspected: list[Box] = field(default_factory=list)
    empty: EmptyPlaces = field(default_factory=EmptyPlaces)


@dataclass
class TrackerState:
    """What is known while players are followed.

    Attributes
    ----------
    search
        where and when was searched last, and when to search next
    frames_with_one
        the latest frames in which only one of two players was seen
    players
        those who are followed, or may still be found again
    tracks_started
        number of track ids given
    """

    search: SearchState
    frames_with_one: deque[Frame]
    players: list[Player] = field(default_factory=list)
    tracks_started: int = 0

    def followed(self, time_s: float) -> list[Player]:
        """The players who are not lost at a time."""
        return [player for player in self.players if not player.is_lost(time_s)]


def initial_state(camera: Camera | None, image_size: tuple[int, int]) -> TrackerState:
    """Return what is known before the first frame.

    Parameters
    ----------
    camera
        in the frame of the half; None where there is no court
    image_size
        (width, height) pixels
    """
    settings = SETTINGS.backfill
    frame_bytes = 3 * image_size[0] * image_size[1]
    frames = int(
        np.clip(settings.most_bytes // frame_bytes, settings.least_frames, settings.most_frames)
    )
    motion = None if camera is None else MotionSearch(camera, image_size)
    search = SearchState(search_boxes(camera, image_size), motion)
    return TrackerState(search, deque(maxlen=frames))


class FrameCandidates:
    """Who is seen in one frame, and which player they are.

    Parameters
    ----------
    players
        of the half
    time_s
        of the frame
    camera
        in the frame of the half; None where there is no court
    """

    def __init__(self, players: Sequence[Player], time_s: float, camera: Camera | None) -> None:
        self._players = players
        self._time_s = time_s
        self._camera = camera
        self.candidates: list[Candidate] = []
        self.assigned: dict[TrackId, Candidate] = {}

    def add(self, more: Sequence[Candidate]) -> None:
        """Add candidates, and give all of them to players anew."""
        if more:
            self.candidates.extend(more)
            self.assigned = assign_candidates(
                self._players, self.distinct, self._time_s, self._camera
            )

    @property
    def distinct(self) -> list[Candidate]:
        """Candidates without further poses of the same person."""
        return distinct_candidates(self.candidates)

    def missed(self, players: Sequence[Player]) -> list[Player]:
        """Which of some players are not seen."""
        return [player for player in players if player.track_id not in self.assigned]

    @property
    def left_over(self) -> list[Candidate]:
        """Distinct candidates who are no player's."""
        given = {candidate.observation.id for candidate in self.assigned.values()}
        return [c for c in self.distinct if c.observation.id not in given]
