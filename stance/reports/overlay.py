"""The clip again, with skeleton and state drawn on every frame."""

from collections.abc import Iterable
from pathlib import Path

import numpy as np

from stance.assessment.analysis_model import Analysis
from stance.camera_motion.stabilising import stabilise_frame
from stance.people.track import Track
from stance.reports.face_blur import blur_faces
from stance.reports.pictures import draw_tags, overlay_picture
from stance.reports.sentences import overlay_caption
from stance.reports.stroke_words import tags_at
from stance.results.model import PlayerResult
from stance.runtime.progress import Progress, Timings, no_progress
from stance.types import FloatArray, ImageArray
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
                for player in analysis.result.players if stabilised else ():
                    image = _drawn(image, frame, player, analysis)
                writer.write(image, frame.time_s)
            progress("drawing", frame.index + 1, summary.frames)


def _blur(image: ImageArray, frame: Frame, analysis: Analysis) -> ImageArray:
    """A frame in which nobody can be known, and the players' bodies are sharp."""
    bodies = _list_bodies(frame, analysis.tracks.values())
    return blur_faces(image, bodies, _list_bodies(frame, analysis.watched_clip.tracks))


def _list_bodies(frame: Frame, tracks: Iterable[Track]) -> list[FloatArray]:
    """Landmarks (33, 2) of those who are seen in a frame."""
    index, time_s = np.array([frame.index]), np.array([frame.time_s])
    moments = (track.between(index, time_s) for track in tracks)
    return [moment.pixels[0] for moment in moments if moment.seen[0]]


def _drawn(
    image: ImageArray,
    frame: Frame,
    player: PlayerResult,
    analysis: Analysis,
) -> ImageArray:
    """Draw one player's pose and state on a frame."""
    here = analysis.tracks[player.player].between(np.array([frame.index]), np.array([frame.time_s]))
    landmarks = here.pixels[0] if here.seen[0] else None
    number, position = next(
        (
            (i, p)
            for i, p in enumerate(player.ready_positions, 1)
            if p.start_frame <= frame.index <= p.end_frame
        ),
        (None, None),
    )
    caption = (
        overlay_caption(frame.time_s, position, number) if len(analysis.result.players) == 1 else ()
    )
    picture = overlay_picture(
        image, landmarks, position, analysis.cameras[player.player], player.hand, caption
    )
    if landmarks is not None:
        draw_tags(picture, landmarks, tags_at(frame.time_s, player, position is not None))
    return picture
