"""The pictures of a clip: moving people, tremor of the hand, grain."""

from collections.abc import Iterator, Sequence

import cv2
import numpy as np
from scipy.ndimage import gaussian_filter, shift

from tests.rendering.arrays import FloatArray, Picture
from tests.rendering.clips import Clip, Finish
from tests.rendering.light import encode
from tests.rendering.players import Player, PosedPlayer, pose_player
from tests.rendering.posture import Moving
from tests.rendering.raster import Window
from tests.rendering.scene import compose, figure_window
from tests.rendering.splits import generator

SHUTTER = 0.4  # of the time between frames
BLUR_STEP_PX = 2.0
MOST_MOMENTS = 6


def frames(clip: Clip, chosen: Sequence[int] | None = None) -> Iterator[Picture]:
    """The clip's pictures (h, w, 3) in turn: all, or those with the chosen numbers."""
    rng = generator(clip.seed + 2_000_000, clip.split)
    scene, finish = clip.scene, clip.finish
    gains = finish.gains.astype(np.float32)
    empty = _softened(compose(scene, [], finish.softness), finish.blur)
    grains = _grain_fields(rng, empty.shape, finish.grain)
    rates, phases = rng.uniform(1.0, 4.0, (2, 3)), rng.uniform(0, 2 * np.pi, (2, 3))
    times = clip.frame_times
    # Drawn for all frames, so that a frame looks the same whichever are chosen.
    shifts = [(rng.integers(len(grains)), rng.integers(0, empty.shape[:2])) for _ in times]
    for number in range(len(times)) if chosen is None else chosen:
        time_s = times[number]
        image = empty.copy()
        people = [(member.player, member.drill) for member in (*clip.defenders, *clip.bystanders)]
        for group in _separate(clip, [_moments(clip, *person, time_s) for person in people]):
            flat = [posed for moments in group for posed in moments]
            window = figure_window(clip.camera, scene.window, flat)
            patch = _softened(compose(scene.part(window), group, finish.softness), finish.blur)
            rows = slice(window.top, window.top + window.height)
            image[rows, window.left : window.left + window.width] = patch
        if finish.shake_px:
            tremor = np.sin(2 * np.pi * rates * time_s + phases).mean(axis=1)
            offset = (*(finish.shake_px * tremor), 0.0)
            image = shift(image, offset, order=1, mode="nearest")
        which, offsets = shifts[number]
        grain = np.roll(grains[which], offsets, axis=(0, 1))
        image *= gains
        image += grain * np.sqrt(np.clip(image, 0.01, 1.0))
        yield encode(image)


def as_coded(image: Picture, finish: Finish) -> Picture:
    """A picture (h, w, 3) compressed about as it would be in the clip."""
    quality = int(np.clip(150 - 3 * finish.crf, 40, 95))
    packed = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
    return np.asarray(cv2.imdecode(packed, cv2.IMREAD_COLOR), np.uint8)


def _separate(clip: Clip, figures: list[list[PosedPlayer]]) -> list[list[list[PosedPlayer]]]:
    """Figures in groups whose windows do not overlap."""
    groups: list[tuple[Window, list[list[PosedPlayer]]]] = []
    for figure in figures:
        members = [figure]
        window = figure_window(clip.camera, clip.scene.window, figure)
        apart = []
        for other_window, other_members in groups:
            if _overlap(window, other_window):
                members = other_members + members
                flat = [posed for member in members for posed in member]
                window = figure_window(clip.camera, clip.scene.window, flat)
            else:
                apart.append((other_window, other_members))
        groups = [*apart, (window, members)]
    return [members for _, members in groups]


def _overlap(first: Window, second: Window) -> bool:
    """Whether two windows share a pixel."""
    return (
        first.left < second.left + second.width
        and second.left < first.left + first.width
        and first.top < second.top + second.height
        and second.top < first.top + first.height
    )


def _moments(clip: Clip, player: Player, drill: Moving, time_s: float) -> list[PosedPlayer]:
    """A person at one or, while moving, several moments of an open shutter."""
    opened = clip.shutter_s or SHUTTER / clip.frame_rate

    def at(moment_s: float) -> PosedPlayer:
        return pose_player(player, drill.posture(min(moment_s, drill.duration_s)))

    first, last = at(time_s - opened / 2), at(time_s + opened / 2)
    travel = clip.camera.project(last.mesh.vertices) - clip.camera.project(first.mesh.vertices)
    farthest = float(np.linalg.norm(travel[:, :2], axis=1).max())
    count = int(np.clip(np.ceil(farthest / BLUR_STEP_PX), 1, MOST_MOMENTS))
    if count == 1:
        return [at(time_s)]
    return [at(time_s + opened * (k / (count - 1) - 0.5)) for k in range(count)]


def _softened(image: FloatArray, blur: float) -> FloatArray:
    return gaussian_filter(image.astype(np.float32), (blur, blur, 0), truncate=3.0)


def _grain_fields(
    rng: np.random.Generator, shape: tuple[int, ...], strength: float
) -> list[FloatArray]:
    """A few pictures of noise (h, w, 3), to be shifted at random from frame to frame."""
    fields = [rng.standard_normal(shape, dtype=np.float32) for _ in range(3)]
    return [2 * strength * gaussian_filter(field, (0.5, 0.5, 0)) for field in fields]
