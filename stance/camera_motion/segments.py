"""How the camera moved while a clip was filmed: the parts in which it stayed where it is."""

from collections.abc import Iterable, Iterator
from pathlib import Path

import numpy as np

from stance.camera_motion.motion import CameraMotion, Part
from stance.camera_motion.registration import (
    STILL,
    ReferenceViews,
    RegisteredPicture,
    grid_moved,
    reference_grid,
)
from stance.errors import InputError
from stance.results.model import Notice
from stance.video.frame import Frame
from stance.video.reader import read_frames

LOOK_S = 0.1
"""Time between two looks while the camera stands. A hand sways at a few hertz at most."""

HALVINGS = (3,)

KNOCK = 0.03

KNOCK_WINDOW_S = 0.7
"""A camera that stands elsewhere than it did within this time was moved; a hand's sway returns."""

LEAST_PART_S = 2.0

LEAST_PART_SHARE = 0.2
"""A shorter part shows hardly a ready position; a clip without a longer one is refused."""


def camera_motion(clip: str | Path, image_size: tuple[int, int]) -> CameraMotion:
    """See how the camera moved in a clip.

    While the camera stands only every `LOOK_S` is looked at; a clip in which it sways is read a
    second time, picture by picture.

    Parameters
    ----------
    clip : path of the video.
    image_size : (width, height) of its upright picture, pixels.

    Raises
    ------
    InputError
        If the clip can't be read, or the camera keeps moving so that no part can be measured.
    """
    motion = _motion(clip, image_size, LOOK_S)
    return motion if motion.stands else _motion(clip, image_size, 0.0)


def motion_notices(motion: CameraMotion) -> tuple[Notice, ...]:
    """What a coach should know about the camera's motion: `camera_moved`, `camera_sways`."""
    notices = []
    if len(motion.parts) > 1:
        used = motion.used
        times = ", ".join(f"{part.start_s:.1f} s" for part in motion.parts[1:])
        notices.append(
            Notice(
                "camera_moved",
                f"The camera was moved (from {times} on it stands elsewhere), so only the longest "
                f"part is measured: {used.start_s:.1f} to {used.end_s:.1f} s. Stand the phone where "
                "nobody knocks it, or cut the clip there and measure each part by itself.",
            )
        )
    if not motion.stands:
        notices.append(
            Notice(
                "camera_sways",
                f"The camera sways, by {motion.sway_px:.0f} pixels on average; that was taken out. "
                "A phone that stands still measures a little better."
                if motion.sway_px >= 1.5
                else "The camera sways a little; that was taken out.",
            )
        )
    return tuple(notices)


def _motion(clip: str | Path, image_size: tuple[int, int], step_s: float) -> CameraMotion:
    """Follow the camera, with a look every `step_s`."""
    views = ReferenceViews(image_size, HALVINGS)
    for frame in _every(read_frames(clip), step_s):
        views.look(frame)
    motion = described_motion(views.ended(), image_size)
    if motion is None:
        raise InputError(_always_moving(clip))
    return motion


def described_motion(
    views: Iterable[list[RegisteredPicture]], image_size: tuple[int, int]
) -> CameraMotion | None:
    """What some views tell, or None where no part can be measured."""
    parts = [part for looks in views for part in _cut_at_knocks(looks, image_size)]
    if not parts:
        return None
    longest = max(parts, key=lambda looks: looks[-1].time_s - looks[0].time_s)
    clip_s = parts[-1][-1].time_s - parts[0][0].time_s
    used = _part(longest)
    if len(parts) > 1 and used.duration_s < max(LEAST_PART_S, LEAST_PART_SHARE * clip_s):
        return None
    frames = np.array([look.frame for look in longest])
    changes = np.stack([look.from_reference for look in longest if look.from_reference is not None])
    grid = reference_grid(image_size)
    shown = np.stack([grid_moved(change, grid) for change in changes])
    middle = int(np.argmin(np.linalg.norm(shown - np.median(shown, axis=0), axis=-1).sum(axis=-1)))
    off = np.linalg.norm(shown - shown[middle], axis=-1)
    stands = bool(np.percentile(off.mean(axis=-1), 95) < STILL * max(image_size))
    back = changes[middle] @ np.linalg.inv(changes)
    if stands:
        back = np.broadcast_to(np.eye(3), back.shape)
    return CameraMotion(
        image_size,
        tuple(_part(looks) for looks in parts),
        used,
        int(frames[middle]),
        frames,
        back,
        float(np.sqrt(np.mean(off**2))),
        stands,
    )


def _part(looks: list[RegisteredPicture]) -> Part:
    """The part of the clip that some looks cover."""
    return Part(looks[0].frame, looks[-1].frame, looks[0].time_s, looks[-1].time_s)


def _always_moving(clip: str | Path) -> str:
    """The sentence for a clip without a part to measure."""
    return (
        f"The camera in {clip} keeps moving, so the court does not stay in its place and nothing "
        "can be measured. Stand the phone on a tripod or a bag and film again."
    )


def _every(frames: Iterable[Frame], step_s: float) -> Iterator[Frame]:
    """Pass on a frame every `step_s`, and the last one."""
    due, waiting = -np.inf, None
    for frame in frames:
        if frame.time_s < due:
            waiting = frame
            continue
        due, waiting = frame.time_s + step_s, None
        yield frame
    if waiting is not None:
        yield waiting


def _cut_at_knocks(
    looks: list[RegisteredPicture], image_size: tuple[int, int]
) -> list[list[RegisteredPicture]]:
    """Cut a view where the camera stands elsewhere afterwards; the move itself is left out."""
    times = np.array([look.time_s for look in looks])
    grid = reference_grid(image_size)
    places = np.stack(
        [grid_moved(look.from_reference, grid) for look in looks if look.from_reference is not None]
    )
    half = KNOCK_WINDOW_S / 2
    steps = np.zeros(len(looks))
    for i, time_s in enumerate(times):
        before = (times >= time_s - half - KNOCK_WINDOW_S) & (times < time_s - half)
        after = (times > time_s + half) & (times <= time_s + half + KNOCK_WINDOW_S)
        if before.any() and after.any():
            change = np.median(places[after], axis=0) - np.median(places[before], axis=0)
            steps[i] = np.linalg.norm(change, axis=-1).mean()
    moving = steps > KNOCK * max(image_size)
    parts: list[list[RegisteredPicture]] = []
    for i, look in enumerate(looks):
        if moving[i]:
            continue
        if not parts or (i and moving[i - 1]):
            parts.append([])
        parts[-1].append(look)
    return parts
