"""Which crops of a clip the report needs: the rest is let go."""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from stance.assessment.players import MeasuredPlayer
from stance.watching.watched_clip import WatchedClip


def keep_needed_crops(clip: WatchedClip, players: Iterable[MeasuredPlayer]) -> WatchedClip:
    """The clip with no other crops than those that show what was measured.

    Parameters
    ----------
    clip
        what was seen in it
    players
        measured in it

    Returns
    -------
    WatchedClip; of each player key frames, and the crops nearest to strokes and landings
    """
    needed = {id(player.watched.track): _needed_frames(player) for player in players}
    return replace(
        clip,
        players=tuple(
            replace(
                player,
                key_crops={
                    frame: crop
                    for frame, crop in player.key_crops.items()
                    if frame in needed.get(id(player.track), ())
                },
            )
            for player in clip.players
        ),
    )


def _needed_frames(player: MeasuredPlayer) -> set[int]:
    """Frames with a crop of a measured player that the report may show."""
    watched = player.watched
    frames = np.array(sorted(watched.key_crops), int)
    needed = {position.key_frame for position in player.positions}
    if len(frames):
        times = np.interp(frames, watched.track.frames, watched.track.times)
        moments = [stroke.time_s for stroke in player.strokes_faced]
        moments += [position.start_s for position in player.positions]
        needed |= {int(frames[np.argmin(np.abs(times - moment))]) for moment in moments}
    return needed
