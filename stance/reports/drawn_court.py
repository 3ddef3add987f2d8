"""The clip's own picture with the court drawn on it, to see whether it lies on the painted one."""

from pathlib import Path

import cv2
import numpy as np

from stance.assessment.analysis_model import Analysis
from stance.camera_motion.stabilising import warp_to_reference
from stance.court.visible_court import trace_court
from stance.reports.pictures import court_picture
from stance.types import ImageArray
from stance.video.reader import read_frames_at

_MOST_WIDE = 1280


def draw_court_of_clip(clip: str | Path, analysis: Analysis) -> ImageArray | None:
    """Draw the marked or found court over the first picture of a clip that was measured.

    Parameters
    ----------
    clip
        path of the video
    analysis
        of this clip

    Returns
    -------
    (height, width, 3) uint8 RGB; None where the court is not known, and where faces are to be
    blurred: with all blurred that is not a player, no painted line could be seen
    """
    court, motion = analysis.watched_clip.court, analysis.watched_clip.motion
    if court is None or analysis.faces_blurred:
        return None
    frame = next(read_frames_at(clip, [motion.used[0].first_frame]))
    image = warp_to_reference(frame.image, frame.index, motion)
    seen = trace_court(court.camera)
    drawn = court_picture(image, seen.lines, seen.net, np.empty((0, 2)), ())
    height, width = drawn.shape[:2]
    if width <= _MOST_WIDE:
        return drawn
    size = _MOST_WIDE, round(height * _MOST_WIDE / width)
    return np.asarray(cv2.resize(drawn, size, interpolation=cv2.INTER_AREA), np.uint8)
