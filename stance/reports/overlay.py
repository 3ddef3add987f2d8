"""The clip again, with skeleton and state drawn on every frame."""

from collections.abc import Iterable
from pathlib import Path

import numpy as np

from stance.assessment.analysis_model import Analysis
from stance.camera_motion.stabilising import stabilise_frame
from stance.people.track import Track
from stance.reports.drawing import Box, draw_caption
from stance.reports.face_blur import blur_faces
from stance.reports.overlay_words import caption_lines, position_at, tags_at
from stance.reports.pictures import draw_state, draw_tags
from stance.runtime.progress import Progress, Timings, no_progress
from stance.types import N_, FloatArray, ImageArray
from stance.video.frame import Frame
from stance.video.prefetch import prefetch
from stance.video.reader import read_frames
from stance.video.writer import VideoWriter

# Frames decoded ahead while the overlay is drawn.
_AHEAD = 6


def write_overlay(
    clip: str | Path,
    analysis: Analysis,
    path: str | Path,
    progress: Progress = no_progress,
    timings: Timings | None = None,
) -> None:
    """Write the clip again with skeleton and state drawn on every frame.

    Parameters
    ----------
    clip
        path of the video
    analysis
        of this clip
    path
        video to write, .mp4
    progress
        told how far the work is
    timings
        adds up where the time goes

    Raises
    ------
    OutputError
        If the video can't be written.
    """
    timings = timings or Timings()
    summary = analysis.result.clip
    with VideoWriter(path, summary.size, summary.frame_rate) as writer:
        for frame in prefetch(timings.each(read_frames(clip), "decode"), _AHEAD):
            with timings.of("draw"):
                stabilised = stabilise_frame(frame, analysis.watched_clip.motion)
                image = (stabilised or frame).image
                if analysis.faces_blurred:
                    image = _blur(image, frame, analysis) if stabilised else blur_faces(image, ())
                if stabilised:
                    image = _draw_players(image, frame, analysis)
                writer.write(image, frame.time_s)
            progress(N_("drawing"), frame.index + 1, summary.frames)


def _blur(image: ImageArray, frame: Frame, analysis: Analysis) -> ImageArray:
    """A frame in which nobody can be known, and the players' bodies are sharp."""
    bodies = _list_bodies(frame, analysis.tracks.values())
    return blur_faces(image, bodies, _list_bodies(frame, analysis.watched_clip.tracks))


def _list_bodies(frame: Frame, tracks: Iterable[Track]) -> list[FloatArray]:
    """Landmarks (33, 2) of those who are seen in a frame."""
    index, time_s = np.array([frame.index]), np.array([frame.time_s])
    moments = (track.between(index, time_s) for track in tracks)
    return [moment.pixels[0] for moment in moments if moment.seen[0]]


def _draw_players(image: ImageArray, frame: Frame, analysis: Analysis) -> ImageArray:
    """A frame with each player's pose, state and name, and the caption of all."""
    picture: ImageArray = np.ascontiguousarray(image).copy()
    players = analysis.result.players
    positions = {player.player: position_at(frame.index, player) for player in players}
    seen = {
        player.player: _list_bodies(frame, [analysis.tracks[player.player]]) for player in players
    }
    labels: list[Box] = []
    for player in players:
        for landmarks in seen[player.player]:
            camera, position = analysis.cameras[player.player], positions[player.player]
            labels += draw_state(picture, landmarks, position, camera, player.hand, labels)
    if players:
        draw_caption(picture, caption_lines(frame.time_s, analysis.result, positions))
    # Tags come last, so that no skeleton lies on a name.
    boxes: list[Box] = []
    for player in players:
        for landmarks in seen[player.player]:
            is_alone = len(players) == 1
            tags = tags_at(frame.time_s, player, positions[player.player], is_alone)
            boxes += draw_tags(picture, landmarks, tags, boxes)
    return picture
