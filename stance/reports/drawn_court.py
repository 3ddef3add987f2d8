"""The clip's own picture with the court drawn on it, to see whether it lies on the painted one."""

from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np

from stance.assessment.analysis_model import Analysis
from stance.camera_motion.motion import Part
from stance.camera_motion.stabilising import warp_to_reference
from stance.court.visible_court import trace_court
from stance.people.track import Track
from stance.reports.face_blur import blur_faces
from stance.reports.pictures import court_picture
from stance.types import FloatArray, ImageArray
from stance.video.reader import read_frames_at

_MOST_WIDE = 1280

_SEARCHED_S = 10.0
"""So far into what is measured a picture is looked for in which all heads are known, seconds."""


def draw_court_of_clip(clip: str | Path, analysis: Analysis) -> ImageArray | None:
    """Draw the marked or found court over an early picture of a clip that was measured.

    Parameters
    ----------
    clip
        path of the video
    analysis
        of this clip

    Returns
    -------
    (height, width, 3) uint8 RGB; None where the court is not known. With faces blurred only what
    is close to the court's lines and the top of the net stays sharp, but for the heads of all who
    are followed.
    """
    watched, motion = analysis.watched_clip, analysis.watched_clip.motion
    if watched.court is None:
        return None
    seen = trace_court(watched.court.camera)
    number, heads = motion.used[0].first_frame, list[FloatArray]()
    if analysis.faces_blurred:
        number, heads = _find_heads(watched.tracks, motion.used[0])
    frame = next(read_frames_at(clip, [number]))
    image = warp_to_reference(frame.image, frame.index, motion)
    if analysis.faces_blurred:
        image = blur_faces(image, (), heads, [*seen.lines, *seen.net])
    drawn = court_picture(image, seen.lines, seen.net, np.empty((0, 2)), ())
    height, width = drawn.shape[:2]
    if width <= _MOST_WIDE:
        return drawn
    size = _MOST_WIDE, round(height * _MOST_WIDE / width)
    return np.asarray(cv2.resize(drawn, size, interpolation=cv2.INTER_AREA), np.uint8)


def _find_heads(tracks: Sequence[Track], part: Part) -> tuple[int, list[FloatArray]]:
    """The first frame in which the most people are seen, and their landmarks (33, 2)."""
    searched_s = min(_SEARCHED_S, part.duration_s)
    last = part.first_frame + int(
        searched_s / (part.duration_s or 1.0) * (part.last_frame - part.first_frame)
    )
    frames = np.arange(part.first_frame, last + 1)
    times = part.start_s + np.linspace(0.0, searched_s, len(frames))
    moments = [track.between(frames, times) for track in tracks]
    count = np.sum([moment.seen for moment in moments], axis=0, initial=0)
    best = int(np.argmax(np.broadcast_to(count, frames.shape)))
    return int(frames[best]), [m.pixels[best] for m in moments if m.seen[best]]
