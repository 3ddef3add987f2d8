"""From measured players to the result of a clip."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from stance.assessment.notices import (
    Who,
    court_file_notices,
    court_search_notice,
    nobody_notice,
    player_notices,
    said_place_notices,
)
from stance.assessment.options import AnalysisOptions
from stance.assessment.players import MeasuredPlayer
from stance.assessment.replays import replay_notices
from stance.camera_motion.motion import motion_notices
from stance.court.calibration import CalibratedCourt
from stance.measures.classes import Limits
from stance.people.track import frames_seen
from stance.results.model import CourtCamera, CourtSummary, PlayerResult, Result
from stance.statistics.shares import (
    ASSUMED_SHARED_ERROR,
    SHARED_ERROR,
    class_shares,
    leading_share,
)
from stance.statistics.statement import clip_statement
from stance.types import FloatArray
from stance.video.probe import ClipDescription
from stance.video.timing import summarise
from stance.watching.watched_clip import WatchedClip


def assemble_result(
    description: ClipDescription,
    clip: WatchedClip,
    court: CalibratedCourt | None,
    players: Mapping[str, MeasuredPlayer],
    options: AnalysisOptions,
) -> Result:
    """Put the result of a clip together, with all notices.

    Parameters
    ----------
    description
        what the clip's head tells
    clip
        what was seen in it
    court
        marked, found or assumed; None where there is none, not even a player to assume it from
    players
        by letter; without any the result says so
    options
        of the analysis
    """
    summary, timing_notices = summarise(description, clip.times)
    notices = list(description.notices)
    if clip.found is not None:
        notices.append(court_search_notice(summary.file, clip.found, options.filmed_from))
    notices += court_file_notices(summary.file, clip.marked_fit)
    notices += [*timing_notices, *motion_notices(clip.motion), *replay_notices(clip.replays)]
    if not players:
        notices.append(nobody_notice(summary, None if court is None else court.source))
        return Result(summary, _summarise_court(court, options), (), tuple(notices))
    results = []
    assumed = court is not None and court.source == "assumed"
    for letter, player in players.items():
        who = Who(summary.file, letter, options.names.get(letter, ""))
        notices += player_notices(who, player)
        if assumed and options.filmed_from is not None:
            notices += said_place_notices(who, player, options.filmed_from)
        shared_error = ASSUMED_SHARED_ERROR if assumed else SHARED_ERROR
        results.append(_player_result(letter, player, clip.times, options, shared_error))
    return Result(
        summary,
        _summarise_court(court, options),
        tuple(results),
        tuple(notices),
        clip_statement(results),
        _limits_used(options.limits),
    )


def _player_result(
    letter: str,
    player: MeasuredPlayer,
    times: FloatArray,
    options: AnalysisOptions,
    shared_error: float,
) -> PlayerResult:
    """What the result says of one player of a clip whose frames have such times, seconds."""
    strokes = tuple(
        replace(stroke, frame=int(np.argmin(np.abs(times - stroke.time_s))))
        for stroke in player.strokes_faced
    )
    return PlayerResult(
        player=letter,
        half=player.watched.half,
        hand=player.racket.hand,
        hand_source="given" if options.hand else "seen",
        ready_positions=player.positions,
        shares=class_shares(player.positions, strokes, shared_error),
        frames_seen=frames_seen(player.watched.track),
        name=options.names.get(letter, ""),
        hand_confidence=player.racket.confidence,
        strokes_faced=strokes,
        own_strokes=player.own_strokes,
        racket_foot_leading=leading_share(player.positions, strokes, shared_error),
    )


def _summarise_court(court: CalibratedCourt | None, options: AnalysisOptions) -> CourtSummary:
    """What the result says of the court."""
    if court is None:
        return CourtSummary("assumed", None, None, options.filmed_from)
    camera = court.camera
    return CourtSummary(
        court.source,
        court.error_px,
        CourtCamera(
            K=tuple(tuple(map(float, row)) for row in camera.matrix),
            R=tuple(tuple(map(float, row)) for row in camera.rotation),
            t=tuple(map(float, camera.translation)),
            distortion=float(camera.distortion),
        ),
        options.filmed_from if court.source == "assumed" else None,
    )


def _limits_used(limits: Limits) -> dict[str, float]:
    """What the result says of the limits of the classes."""
    return {
        "square_deg": limits.square_deg,
        "side_on_deg": limits.side_on_deg,
        "confidence": limits.confidence,
    }
