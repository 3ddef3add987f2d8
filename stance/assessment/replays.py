"""Replays in slow motion are left out of what is counted, and named."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from stance.assessment.players import MeasuredPlayer, measure_players
from stance.court.calibration import CalibratedCourt
from stance.measures.classes import Limits
from stance.people.replays import Replay
from stance.results.model import Notice
from stance.runtime.language import format_number
from stance.runtime.language import gettext as _
from stance.watching.watched_clip import WatchedClip

_MARGIN_S = 0.3
"""What is so near to a replay is left out too: its ends are known to the next observation."""


def measure_first_showings(
    clip: WatchedClip, court: CalibratedCourt | None, limits: Limits
) -> dict[str, MeasuredPlayer]:
    """Measure all players of a clip without what a replay shows again; nobody without a court.

    Parameters and what is returned are those of `measure_players`.
    """
    if court is None:
        return {}
    return leave_out_replays(measure_players(clip, court, limits), clip.replays)


def leave_out_replays(
    players: Mapping[str, MeasuredPlayer], replays: Sequence[Replay]
) -> dict[str, MeasuredPlayer]:
    """Players without the ready positions and strokes that a replay shows again.

    Parameters
    ----------
    players
        by letter
    replays
        of the clip
    """
    return {letter: _without(player, replays) for letter, player in players.items()}


def replay_notices(replays: Sequence[Replay]) -> tuple[Notice, ...]:
    """Say which parts of a clip are replays: `replay`."""
    return tuple(
        Notice(
            "replay",
            _(
                "From {start} to {end} s the clip shows again, {slower} times slower, what "
                "it showed from {first_start} to {first_end} s. This replay is left out, "
                "so that nothing counts twice."
            ).format(
                start=format_number(replay.start_s, 1),
                end=format_number(replay.end_s, 1),
                slower=format_number(replay.slower),
                first_start=format_number(replay.first_start_s, 1),
                first_end=format_number(replay.first_end_s, 1),
            ),
        )
        for replay in replays
    )


def _without(player: MeasuredPlayer, replays: Sequence[Replay]) -> MeasuredPlayer:
    """A player without what a replay shows again."""

    def counts(time_s: float) -> bool:
        return not any(r.start_s - _MARGIN_S <= time_s <= r.end_s + _MARGIN_S for r in replays)

    kept = [k for k, p in enumerate(player.positions) if counts((p.start_s + p.end_s) / 2)]
    number = {old: new for new, old in enumerate(kept)}
    return replace(
        player,
        positions=tuple(player.positions[k] for k in kept),
        strokes_faced=tuple(
            replace(stroke, ready_position=number.get(stroke.ready_position))
            if stroke.ready_position is not None
            else stroke
            for stroke in player.strokes_faced
            if counts(stroke.time_s)
        ),
        own_strokes=tuple(stroke for stroke in player.own_strokes if counts(stroke.time_s)),
    )
