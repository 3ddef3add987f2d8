"""Estimates how the camera moved: the parts in which it stayed where it is, and its sway there."""

from collections.abc import Iterable, Iterator
from pathlib import Path

import numpy as np

from stance.camera_motion.motion import CameraMotion, Part
from stance.camera_motion.registration import (
    STILL,
    Registration,
    ViewRegistrar,
    apply_homography,
    picture_grid,
)
from stance.errors import InputError
from stance.types import FloatArray
from stance.video.frame import Frame
from stance.video.reader import read_frames

REGISTER_STEP_S = 0.1
"""Time between registered pictures while the camera stands. A hand sways at a few hertz at most."""

PYRAMID_LEVELS = (3,)
"""Highest pyramid level of the optical flow; each level doubles how far corners are tracked."""

KNOCK = 0.03
"""A camera whose picture is displaced by more than this, as a fraction of its long side, was
moved."""

KNOCK_WINDOW_S = 0.7
"""It was moved if it stands elsewhere than it did within this time; a hand's sway returns."""

LEAST_PART_S = 2.0
"""A shorter part shows hardly a ready position; a clip without a longer one is refused."""

LEAST_PART_SHARE = 0.2
"""Nor may the part that is measured be a smaller share of the clip."""


def estimate_camera_motion(clip: str | Path, image_size: tuple[int, int]) -> CameraMotion:
    """Estimate how the camera moved in a clip.

    While the camera stands one picture each `REGISTER_STEP_S` is registered; a clip in which it
    sways is read a second time, picture by picture.

    Parameters
    ----------
    clip
        path of the video.
    image_size
        (width, height) of its upright picture, pixels.

    Raises
    ------
    InputError
        If the clip can't be read, or the camera keeps moving so that no part can be measured.
    """
    motion = _register_clip(clip, image_size, REGISTER_STEP_S)
    return motion if motion.stands else _register_clip(clip, image_size, 0.0)


def describe_motion(
    views: Iterable[list[Registration]], image_size: tuple[int, int]
) -> CameraMotion | None:
    """Describe the camera's motion from registered pictures.

    Parameters
    ----------
    views
        registrations of each view, in order, all with a homography.
    image_size
        (width, height) of the clip's upright picture, pixels.

    Returns
    -------
    CameraMotion, or None where no part can be measured
    """
    parts = [part for view in views for part in _cut_at_knocks(view, image_size)]
    if not parts:
        return None
    longest = max(parts, key=lambda part: part[-1].time_s - part[0].time_s)
    clip_s = parts[-1][-1].time_s - parts[0][0].time_s
    used = _span(longest)
    if len(parts) > 1 and used.duration_s < max(LEAST_PART_S, LEAST_PART_SHARE * clip_s):
        return None
    frames = np.array([registration.frame for registration in longest])
    from_reference = _homographies(longest)
    grid = picture_grid(image_size)
    shown = np.stack([apply_homography(homography, grid) for homography in from_reference])
    # The picture that shows the grid nearest to where most pictures do becomes the reference.
    middle = int(np.argmin(np.linalg.norm(shown - np.median(shown, axis=0), axis=-1).sum(axis=-1)))
    displacements = np.linalg.norm(shown - shown[middle], axis=-1)
    stands = bool(np.percentile(displacements.mean(axis=-1), 95) < STILL * max(image_size))
    to_reference = from_reference[middle] @ np.linalg.inv(from_reference)
    if stands:
        to_reference = np.broadcast_to(np.eye(3), to_reference.shape)
    return CameraMotion(
        image_size=image_size,
        parts=tuple(_span(part) for part in parts),
        used=used,
        reference_frame=int(frames[middle]),
        frames=frames,
        to_reference=to_reference,
        sway_px=float(np.sqrt(np.mean(displacements**2))),
        stands=stands,
    )


def _register_clip(clip: str | Path, image_size: tuple[int, int], step_s: float) -> CameraMotion:
    """Register a picture every `step_s` and describe the camera's motion."""
    registrar = ViewRegistrar(image_size, PYRAMID_LEVELS)
    for frame in _sample_frames(read_frames(clip), step_s):
        registrar.register(frame)
    motion = describe_motion(registrar.views(), image_size)
    if motion is None:
        raise InputError(_moving_sentence(clip))
    return motion


def _span(registrations: list[Registration]) -> Part:
    """The part of the clip from the first to the last registered picture."""
    first, last = registrations[0], registrations[-1]
    return Part(first.frame, last.frame, first.time_s, last.time_s)


def _homographies(registrations: list[Registration]) -> FloatArray:
    """(registrations, 3, 3) from the view's reference picture to the others."""
    return np.stack([r.from_reference for r in registrations if r.from_reference is not None])


def _moving_sentence(clip: str | Path) -> str:
    """The sentence for a clip without a part to measure."""
    return (
        f"The camera in {clip} keeps moving, so the court does not stay in its place and nothing "
        "can be measured. Stand the phone on a tripod or a bag and film again."
    )


def _sample_frames(frames: Iterable[Frame], step_s: float) -> Iterator[Frame]:
    """Pass on a frame every `step_s`, and the last one."""
    due_s, skipped = -np.inf, None
    for frame in frames:
        if frame.time_s < due_s:
            skipped = frame
            continue
        due_s, skipped = frame.time_s + step_s, None
        yield frame
    if skipped is not None:
        yield skipped


def _cut_at_knocks(
    view: list[Registration], image_size: tuple[int, int]
) -> list[list[Registration]]:
    """Cut a view where the camera stands elsewhere afterwards; the move itself is left out."""
    times = np.array([registration.time_s for registration in view])
    grid = picture_grid(image_size)
    places = np.stack([apply_homography(homography, grid) for homography in _homographies(view)])
    half = KNOCK_WINDOW_S / 2
    steps = np.zeros(len(view))
    for i, time_s in enumerate(times):
        before = (times >= time_s - half - KNOCK_WINDOW_S) & (times < time_s - half)
        after = (times > time_s + half) & (times <= time_s + half + KNOCK_WINDOW_S)
        if before.any() and after.any():
            step = np.median(places[after], axis=0) - np.median(places[before], axis=0)
            steps[i] = np.linalg.norm(step, axis=-1).mean()
    moving = steps > KNOCK * max(image_size)
    parts: list[list[Registration]] = []
    for i, registration in enumerate(view):
        if moving[i]:
            continue
        if not parts or (i and moving[i - 1]):
            parts.append([])
        parts[-1].append(registration)
    return parts
