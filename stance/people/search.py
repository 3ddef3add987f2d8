"""The search for new players, and for those who were lost.

New players are looked for everywhere at the start, then where something moves on the half court,
behind who is known, and around where somebody was lost.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stance.people.candidates import Candidate, Sought, find_candidates
from stance.people.half_court import stands_on_half
from stance.people.landmarks import HIPS, Box, Pose
from stance.people.observation import Observation
from stance.people.player_state import Player
from stance.people.pose_match import is_of_its_own, same_person
from stance.people.search_boxes import search_near
from stance.people.settings import SETTINGS
from stance.people.tracker_state import SearchState, TrackerContext, TrackerState
from stance.video.frame import Frame


def search_missing(
    context: TrackerContext, state: TrackerState, frame: Frame, seen: Sequence[Candidate]
) -> list[Candidate]:
    """Look for missing players near where they were lost and where something moves.

    Parameters
    ----------
    context
        camera, pose models and threads of the half
    state
        tells who is missing; when the next search is due is noted there
    frame
        the next one
    seen
        in this frame so far
    """
    search = state.search
    squares = _squares_to_search(state, frame)
    found = _find_in(context, frame, squares.boxes, [c.pose for c in seen])
    # Who is followed and seen once more is not who was searched.
    is_anybody_new = any(not any(same_person(c.pose, s.pose) for s in seen) for c in found)
    if is_anybody_new:
        search.suspected = []
    else:
        search.empty.add(frame, squares.proposals)
    nobody_yet = context.camera is not None and not state.players
    # Who was lost lately comes out from behind whoever hides them.
    is_somebody_near = any(player.was_lost_lately(frame.time_s) for player in state.players)
    _note_search(
        search,
        frame.time_s,
        was_anywhere=bool(squares.boxes) and not is_somebody_near,
        found_somebody=is_anybody_new and not nobody_yet,
    )
    if context.camera is None and found:
        return [max(found, key=lambda c: float(np.ptp(c.pose.pixels[:, 1])))]
    return found


def search_behind(
    context: TrackerContext, state: TrackerState, frame: Frame, seen: Sequence[Candidate]
) -> list[Candidate]:
    """Look for somebody behind those seen, now and then; soon after somebody was lost.

    Parameters
    ----------
    context
        camera, pose models and threads of the half
    state
        when the next such search is due is noted there
    frame
        the next one
    seen
        in this frame, each somebody else
    """
    settings, search, now = SETTINGS.search, state.search, frame.time_s
    if context.camera is None or not seen or now < search.behind_due_s:
        return []
    is_somebody_lost = any(player.was_lost_lately(now) for player in state.players)
    factor = settings.behind_factors[search.behind_tries % len(settings.behind_factors)]
    search.behind_tries += 1
    others = [candidate.pose for candidate in seen]
    found = _find_in(context, frame, [pose.box.widened(factor) for pose in others], others)
    search.behind_pause_s = (
        settings.behind_pause_s
        if found or is_somebody_lost
        else min(settings.behind_growth * search.behind_pause_s, settings.longest_behind_pause_s)
    )
    search.behind_due_s = now + search.behind_pause_s
    return found


def search_moving(
    context: TrackerContext, state: TrackerState, frame: Frame, seen: Sequence[Candidate]
) -> list[Candidate]:
    """Look where something moves and none of those seen in this frame is.

    Parameters
    ----------
    context
        camera, pose models and threads of the half
    state
        what is known of the half; its search is updated
    frame
        the next one
    seen
        in this frame so far
    """
    if state.search.motion is None:
        return []
    proposals = state.search.motion.proposals([candidate.pose.box for candidate in seen])
    wide = [box.widened(SETTINGS.observation.wide_factor) for box in proposals]
    return _find_in(context, frame, wide, [])


@dataclass(frozen=True)
class _Squares:
    """Squares to search, and those proposed because something moves there."""

    boxes: Sequence[Box]
    proposals: Sequence[Box] = ()


def _squares_to_search(state: TrackerState, frame: Frame) -> _Squares:
    """The whole half now and then; else what moves, and around where somebody was lost."""
    search, now = state.search, frame.time_s
    followed = state.followed(now)
    lost = [player for player in state.players if player.was_lost_lately(now)]
    if (not followed or lost) and now >= search.whole_due_s:
        search.whole_due_s = now + search.whole_pause_s
        search.whole_pause_s = min(2 * search.whole_pause_s, SETTINGS.search.longest_whole_pause_s)
        return _Squares(search.everywhere)
    boxes: list[Box] = []
    proposals: list[Box] = []
    if search.motion is not None:
        settings = SETTINGS.observation
        proposals = [
            box
            for box in search.motion.proposals([p.last_pose.box for p in followed])
            if not search.empty.includes(frame, box)
        ]
        boxes += search.suspected + [box.widened(settings.wide_factor) for box in proposals]
        # Who is not seen at first is often seen from a little farther away.
        search.suspected = (
            [] if search.suspected else [box.widened(settings.wider_factor) for box in proposals]
        )
    near = dict.fromkeys(box for player in lost for box in _squares_near(search, player))
    return _Squares([*boxes, *near], proposals)


def _squares_near(search: SearchState, player: Player) -> tuple[Box, ...]:
    """Squares around where a player was lost."""
    place = player.last_pose.pixels[HIPS].mean(axis=0)
    return search_near(search.everywhere, place, SETTINGS.search.squares_near_lost)


def _note_search(
    search: SearchState, time_s: float, was_anywhere: bool, found_somebody: bool
) -> None:
    """Note when the next search for a missing player is due."""
    settings = SETTINGS.search
    if found_somebody:
        search.pause_s = settings.pause_s
    elif was_anywhere:
        search.pause_s = min(2 * search.pause_s, settings.longest_pause_s)
    if search.suspected:
        search.due_s = time_s
    else:
        search.due_s = time_s + (search.pause_s if was_anywhere else settings.pause_s)


def _find_in(
    context: TrackerContext, frame: Frame, boxes: Sequence[Box], others: Sequence[Pose]
) -> list[Candidate]:
    """Look for people in squares, past others, and once more around each of them.

    Behind the net's tape the second observation may show nobody; who is seen alike in two squares
    is there all the same.
    """
    finder, margin = context.models.finder, SETTINGS.half_court.margin_found_m
    found: list[Candidate] = []
    seen_once: list[Pose] = []
    for box in boxes:
        for rough in finder.observe(frame, box, others):
            if not _may_be_new(context, rough, found, others):
                continue
            again = rough.pose.box
            wide = again.widened(SETTINGS.observation.wide_factor)
            closer = find_candidates(
                context.camera,
                frame,
                finder.observe(frame, wide, others),
                Sought(margin, again, others),
            )
            if not closer and any(same_person(rough.pose, other) for other in seen_once):
                closer = find_candidates(
                    context.camera, frame, [rough], Sought(margin, others=others)
                )
            found += closer
            seen_once.append(rough.pose)
    return found


def _may_be_new(
    context: TrackerContext,
    rough: Observation,
    found: Sequence[Candidate],
    others: Sequence[Pose],
) -> bool:
    """Whether an observation shows somebody on the half who is not one of those known."""
    if context.camera is not None and not stands_on_half(
        context.camera, rough.pose.pixels, SETTINGS.half_court.margin_found_m
    ):
        return False
    return not any(same_person(rough.pose, other.pose) for other in found) and is_of_its_own(
        rough.pose, others
    )
