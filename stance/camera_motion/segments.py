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
from stance.runtime.language import gettext as _
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


def estimate_camera_motions(
    clip: str | Path, image_size: tuple[int, int]
) -> tuple[CameraMotion, ...]:
    """Estimate how the camera moved in a clip, for each place where it stands.

    While the camera stands one picture each `REGISTER_STEP_S` is registered; a clip in which it
    sways is read a second time, picture by picture.

    Parameters
    ----------
    clip
        path of the video.
    image_size
        (width, height) of its upright picture, pixels.

    Returns
    -------
    One or more, the longest first

    Raises
    ------
    InputError
        If the clip can't be read, or the camera keeps moving so that no part can be measured.
    """
    motions = _register_clip(clip, image_size, REGISTER_STEP_S)
    return motions if motions[0].stands else _register_clip(clip, image_size, 0.0)


def describe_motions(
    views: Iterable[list[list[Registration]]], image_size: tuple[int, int]
) -> tuple[CameraMotion, ...]:
    """Describe the camera's motion from registered pictures, for each place where it stands.

    Parameters
    ----------
    views
        stretches of registrations of each view, in order, all with a homography.
    image_size
        (width, height) of the clip's upright picture, pixels.

    Returns
    -------
    Of places where it stands long enough to be measured, the longest first
    """
    places = [place for view in views for place in _find_places(view, image_size)]
    if not places:
        return ()
    parts = sorted((_span(part) for place in places for part in place), key=lambda p: p.start_s)
    clip_s = parts[-1].end_s - parts[0].start_s
    least_s = max(LEAST_PART_S, LEAST_PART_SHARE * clip_s) if len(parts) > 1 else 0.0
    return tuple(
        _describe_place(place, tuple(parts), image_size)
        for place in sorted(places, key=_duration_s, reverse=True)
        if _duration_s(place) >= least_s
    )


def _describe_place(
    place: list[list[Registration]], parts: tuple[Part, ...], image_size: tuple[int, int]
) -> CameraMotion:
    """Describe the motion of a camera that stands in one place, of all parts of the clip."""
    registrations = [registration for part in place for registration in part]
    frames = np.array([registration.frame for registration in registrations])
    from_reference = _homographies(registrations)
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
        parts=parts,
        used=tuple(_span(part) for part in place),
        reference_frame=int(frames[middle]),
        frames=frames,
        to_reference=to_reference,
        sway_px=float(np.sqrt(np.mean(displacements**2))),
        stands=stands,
    )


def _register_clip(
    clip: str | Path, image_size: tuple[int, int], step_s: float
) -> tuple[CameraMotion, ...]:
    """Register a picture every `step_s` and describe the camera's motion."""
    registrar = ViewRegistrar(image_size, PYRAMID_LEVELS)
    for frame in _sample_frames(read_frames(clip), step_s):
        registrar.register(frame)
    motions = describe_motions(registrar.views(), image_size)
    if not motions:
        raise InputError(_moving_sentence(clip))
    return motions


def _duration_s(place: list[list[Registration]]) -> float:
    """How long the camera is seen in a place, seconds."""
    return sum(_span(part).duration_s for part in place)


def _span(registrations: list[Registration]) -> Part:
    """The part of the clip from the first to the last registered picture."""
    first, last = registrations[0], registrations[-1]
    return Part(first.frame, last.frame, first.time_s, last.time_s)


def _homographies(registrations: list[Registration]) -> FloatArray:
    """(registrations, 3, 3) from the view's reference picture to the others."""
    return np.stack([r.from_reference for r in registrations if r.from_reference is not None])


def _moving_sentence(clip: str | Path) -> str:
    """The sentence for a clip without a part to measure."""
    return _(
        "The camera in {clip} keeps moving, so the court does not stay in its place "
        "and nothing can be measured. Stand the phone on a tripod or a bag and film "
        "again."
    ).format(clip=clip)


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


def _find_places(
    view: list[list[Registration]], image_size: tuple[int, int]
) -> list[list[list[Registration]]]:
    """Find the places where the camera stands in a view, and the parts of the clip in each.

    A stretch that begins where the camera stood before something else was shown belongs there.
    """
    places: list[list[list[Registration]]] = []
    for stretch in view:
        for number, part in enumerate(_cut_at_knocks(stretch, image_size)):
            if number == 0 and places and not _elsewhere(places[-1][-1], part, image_size):
                places[-1].append(part)
            else:
                places.append([part])
    return places


def _elsewhere(
    before: list[Registration], after: list[Registration], image_size: tuple[int, int]
) -> bool:
    """Tell whether the camera stands elsewhere in one part than in another, by their medians."""
    grid = picture_grid(image_size)
    there, here = (
        np.median([apply_homography(h, grid) for h in _homographies(part)], axis=0)
        for part in (before, after)
    )
    return bool(np.linalg.norm(here - there, axis=-1).mean() > KNOCK * max(image_size))


def _cut_at_knocks(
    stretch: list[Registration], image_size: tuple[int, int]
) -> list[list[Registration]]:
    """Cut a stretch where the camera stands elsewhere afterwards; the move itself is left out."""
    times = np.array([registration.time_s for registration in stretch])
    grid = picture_grid(image_size)
    places = np.stack([apply_homography(homography, grid) for homography in _homographies(stretch)])
    half = KNOCK_WINDOW_S / 2
    steps = np.zeros(len(stretch))
    for i, time_s in enumerate(times):
        before = (times >= time_s - half - KNOCK_WINDOW_S) & (times < time_s - half)
        after = (times > time_s + half) & (times <= time_s + half + KNOCK_WINDOW_S)
        if before.any() and after.any():
            step = np.median(places[after], axis=0) - np.median(places[before], axis=0)
            steps[i] = np.linalg.norm(step, axis=-1).mean()
    moving = steps > KNOCK * max(image_size)
    parts: list[list[Registration]] = []
    for i, registration in enumerate(stretch):
        if moving[i]:
            continue
        if not parts or (i and moving[i - 1]):
            parts.append([])
        parts[-1].append(registration)
    return parts
