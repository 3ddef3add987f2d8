"""Follow the players of a half court through a clip, each with one identity.

At each frame given every player is observed in the square around where they should be by now
(`following`, `player_observation`), unless they rest (`resting`). Candidates are given to players
all at once (`association`). New and lost players are searched (`search`, `new_tracks`); once both
are known, the last frames that showed one of them are observed once more (`backfill`).
"""

from stance.people.association import learn_colours
from stance.people.backfill import keep_or_backfill
from stance.people.following import observe_followed, observe_wider
from stance.people.half_court import on_half
from stance.people.new_tracks import start_track
from stance.people.player_state import Player
from stance.people.resting import keep_reference, may_be_misplaced
from stance.people.search import search_behind, search_missing, search_moving
from stance.people.settings import SETTINGS
from stance.people.tracker_state import (
    FrameCandidates,
    TrackerContext,
    initial_state,
)
from stance.video.frame import Frame


class Tracker:
    """Follows the players of one half.

    Parameters
    ----------
    context
        what the tracker works with
    """

    def __init__(self, context: TrackerContext) -> None:
        self.context = context
        self.camera, self.half = context.camera, context.half
        self.state = initial_state(context.camera, context.image_size)

    @property
    def players(self) -> list[Player]:
        """Those who are followed, or may still be found again."""
        return self.state.players

    def step(self, frame: Frame) -> None:
        """Observe all players in the next frame."""
        context, state, now = self.context, self.state, frame.time_s
        followed = state.followed(now)
        is_complete = len(followed) >= context.most_players
        seen = FrameCandidates(state.players, now, context.camera)
        motion = state.search.motion
        # Beside the observations, which take longer.
        background = None if motion is None else context.workers.submit(motion.watch, frame)
        seen.add(observe_followed(context, frame, followed, state.players))
        if background is not None:
            background.result()
        missed = seen.missed(followed)
        if missed:
            seen.add(observe_wider(context, frame, missed, seen.assigned))
        if not is_complete and now >= state.search.due_s:
            seen.add(search_missing(context, state, frame, seen.candidates))
        elif seen.missed(missed):
            seen.add(search_moving(context, state, frame, seen.candidates))
        if not is_complete:
            seen.add(search_behind(context, state, frame, seen.distinct))
        self._note(frame, seen)
        # Who mostly stands beside the court is no player, and takes no player's place.
        most_outside = SETTINGS.player.outside_s
        state.players = [
            player
            for player in state.players
            if player.outside_s <= most_outside and not player.was_seen_briefly(now)
        ]
        known = [player for player in state.players if player.track_id in seen.assigned]
        for candidate in seen.left_over:
            start_track(context, state, candidate, frame)
        keep_or_backfill(context, state, frame, known)
        learn_colours(state.players, seen.assigned)

    def release_frames(self) -> None:
        """Let go of the frames kept to be observed once more."""
        self.state.frames_with_one.clear()

    def _note(self, frame: Frame, seen: FrameCandidates) -> None:
        """Note for each player what was seen, and where: on the half or beside it."""
        search, now = self.state.search, frame.time_s
        for player in self.players:
            candidate = seen.assigned.get(player.track_id)
            if candidate is None:
                player.append(frame, None)
                continue
            if player.is_lost(now):
                search.whole_pause_s, search.whole_due_s = SETTINGS.search.whole_pause_s, now
            observation = candidate.observation
            if observation.id != player.last_observation.id and may_be_misplaced(player, frame):
                player.replace_last(observation)
            if self.context.may_rest:
                keep_reference(player, candidate, frame)
            player.append(frame, observation)
            if self.context.camera is not None:
                step = player.times[-1] - player.times[-2]
                since = min(step, SETTINGS.player.longest_step_s)
                inside = on_half(candidate.place, SETTINGS.half_court.margin_found_m)
                player.outside_s += -since if inside else since
