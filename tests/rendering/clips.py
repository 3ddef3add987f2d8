"""Rendered drill clips with their truth."""

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from scipy.ndimage import gaussian_filter, shift

from stance.court.dimensions import court_points
from stance.video.writer import VideoWriter
from tests.rendering.arrays import FloatArray, Picture
from tests.rendering.cameras import VIEWS, ViewCamera, draw_camera
from tests.rendering.drill import Drill, draw_angle_list, draw_drill
from tests.rendering.hall import draw_hall
from tests.rendering.light import encode
from tests.rendering.measures import Measures, measure
from tests.rendering.players import Player, PosedPlayer, draw_player, pose_player
from tests.rendering.raster import Window
from tests.rendering.scene import EmptyScene, compose, figure_window, render_empty
from tests.rendering.skeleton import JOINT_NAMES
from tests.rendering.splits import generator

TRUTH_SCHEMA = "stance-truth/1"
COURT_SCHEMA = "stance-court/1"
FRAME_RATES = (30.0, 30.0, 30.0, 25.0, 50.0, 60.0)
SHORTEST_TRUTH_S = 0.2
CAMERA_TRIES = 400
SHUTTER = 0.4  # of the time between frames
BLUR_STEP_PX = 2.0
MOST_MOMENTS = 6
SMALLEST_TRIANGLE_M2 = 0.5


@dataclass(frozen=True)
class Finish:
    """Flaws of the phone's picture that stay the same through a clip.

    `gains` (3,) exposure and white balance; `blur` and `grain` as in pixels and in linear light;
    `shake_px` amplitude of the hand's tremor; `softness` of shadows in metres; `crf` of the codec.
    """

    gains: FloatArray
    blur: float
    grain: float
    shake_px: float
    softness: float
    crf: float


@dataclass(frozen=True)
class Bystander:
    """Somebody else in the hall: a partner, or one who does not count."""

    player: Player
    drill: Drill


@dataclass(frozen=True)
class Clip:
    """Everything that determines a rendered clip; `frame_times` (frames,) seconds."""

    player: Player
    drill: Drill
    camera: ViewCamera
    scene: EmptyScene
    bystanders: tuple[Bystander, ...]
    finish: Finish
    frame_rate: float
    view: str
    split: str
    seed: int
    partner: Bystander | None = None

    @property
    def defenders(self) -> tuple[Bystander, ...]:
        """The player and, in a clip of a pair, the partner."""
        first = Bystander(self.player, self.drill)
        return (first,) if self.partner is None else (first, self.partner)

    @property
    def frame_times(self) -> FloatArray:
        """Time of each frame, seconds."""
        duration_s = min(member.drill.duration_s for member in self.defenders)
        return np.arange(int(duration_s * self.frame_rate)) / self.frame_rate


def draw_clip(
    seed: int,
    split: str,
    view: str | None = None,
    positions: int = 9,
    angles_deg: Sequence[tuple[float, float]] | None = None,
) -> Clip:
    """A random drill clip, wholly determined by its arguments.

    Parameters
    ----------
    seed : int
        Not negative; the view (where not given) and the hand follow from it in turn.
    split : {"train", "tune", "test"}
        Which bands of body, camera and hall settings to draw from.
    view : {"behind", "corner", "side", "front"}, optional
        Where the camera stands.
    positions : int
        Number of ready positions.
    angles_deg : sequence of (float, float), optional
        Lead angle and hip yaw of each instead; drawn where not given.
    """
    rng = generator(seed + 1_000_000, split)
    view = view or VIEWS[seed % len(VIEWS)]
    player = draw_player(rng, split, ("right", "left")[seed // len(VIEWS) % 2])
    while True:
        home = (rng.uniform(-1.8, 1.8), rng.uniform(-5.0, -2.6))
        drill = draw_drill(
            rng, player.skeleton, home, angles_deg or draw_angle_list(rng, positions)
        )
        camera = _camera_for(rng, split, view, player, drill)
        if camera is not None:
            break
    hall = draw_hall(rng, split, camera.centre)
    finish = draw_finish(rng)
    return Clip(
        player,
        drill,
        camera,
        render_empty(hall, camera, Window(0, 0, *camera.size)),
        draw_bystanders(rng, split, camera, drill.duration_s),
        finish,
        float(rng.choice(FRAME_RATES)),
        view,
        split,
        seed,
    )


def draw_finish(rng: np.random.Generator) -> Finish:
    """Random flaws of the phone's picture."""
    return Finish(
        gains=rng.uniform(0.7, 1.25) * np.clip(1.0 + rng.normal(0, 0.05, 3), 0.85, 1.2),
        blur=rng.uniform(0.4, 0.9),
        grain=rng.uniform(0.005, 0.04),
        shake_px=rng.uniform(0.3, 2.0) if rng.uniform() < 0.2 else 0.0,
        softness=rng.uniform(0.05, 0.2),
        crf=rng.uniform(20.0, 30.0),
    )


def _camera_for(
    rng: np.random.Generator, split: str, view: str, player: Player, drill: Drill
) -> ViewCamera | None:
    """A camera that shows the player throughout a drill, or None where none was found."""
    moments = [
        pose_player(player, drill.posture(time_s)).mesh.vertices[::40]
        for time_s in np.arange(0.0, drill.duration_s, 0.15)
    ]
    points = np.concatenate(moments)
    for _ in range(CAMERA_TRIES):
        camera = draw_camera(rng, split, view, points)
        if camera is not None:
            return camera
    return None


def draw_bystanders(
    rng: np.random.Generator, split: str, camera: ViewCamera, duration_s: float
) -> tuple[Bystander, ...]:
    """At times a feeder beyond the net, and people beside the court behind the players."""
    places = []
    if rng.uniform() < 0.5:
        places.append((rng.uniform(-1.5, 1.5), rng.uniform(2.0, 5.0)))
    if rng.uniform() < 0.4:
        places.append((rng.choice((-1, 1)) * rng.uniform(3.6, 5.0), rng.uniform(-5.0, 5.0)))
    people = []
    for place in places:
        player = draw_player(rng, split, ("right", "left")[rng.integers(2)])
        mirror = 1.0 if player.hand == "right" else -1.0
        home = (mirror * place[0], place[1])
        nearness = np.linalg.norm(np.array(place) - camera.centre[:2])
        between = 0.0 < place[1] < camera.centre[1] + 1.0 or nearness < 6.0
        if between:
            continue
        angles = draw_angle_list(rng, max(2, int(duration_s / 2.5)))
        people.append(Bystander(player, draw_drill(rng, player.skeleton, home, angles, 3.0)))
    return tuple(people)


def frames(clip: Clip, chosen: range | None = None) -> Iterator[Picture]:
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
        people = [(one.player, one.drill) for one in (*clip.defenders, *clip.bystanders)]
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


def _moments(clip: Clip, player: Player, drill: Drill, time_s: float) -> list[PosedPlayer]:
    """A person at one or, while moving, several moments of an open shutter."""
    opened = SHUTTER / clip.frame_rate

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


def as_coded(image: Picture, finish: Finish) -> Picture:
    """A picture (h, w, 3) compressed about as it would be in the clip."""
    quality = int(np.clip(150 - 3 * finish.crf, 40, 95))
    packed = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
    return np.asarray(cv2.imdecode(packed, cv2.IMREAD_COLOR), np.uint8)


def joints_by_frame(clip: Clip, member: Bystander) -> FloatArray:
    """Joints (frames, 17, 3) of somebody in a clip, court frame, metres."""
    return np.array(
        [pose_player(member.player, member.drill.posture(t)).joints for t in clip.frame_times]
    )


def clip_truth(clip: Clip) -> dict[str, Any]:
    """The truth of a clip, schema "stance-truth/1"; measures are medians over a spell's frames.

    The first defender's truth lies at the top level; a pair has the partner's under "partner".
    """
    camera = clip.camera
    truths = [_defender_truth(clip, member) for member in clip.defenders]
    return {
        "schema": TRUTH_SCHEMA,
        "image_size": list(camera.size),
        "frame_rate": clip.frame_rate,
        "camera": {
            "K": camera.matrix.tolist(),
            "R": camera.rotation.tolist(),
            "t": camera.translation.tolist(),
        },
        "view": clip.view,
        **truths[0],
        **({"partner": truths[1]} if len(truths) > 1 else {}),
    }


def _defender_truth(clip: Clip, member: Bystander) -> dict[str, Any]:
    """What is true of one defender."""
    joints = joints_by_frame(clip, member)
    return {
        "player": {
            "hand": member.player.hand,
            "height_m": round(member.player.skeleton.body.phenotype.stature_m, 3),
        },
        "joint_names": list(JOINT_NAMES),
        "joints": np.round(joints, 3).tolist(),
        "ready_positions": _ready_positions(clip, member, joints),
    }


def _ready_positions(clip: Clip, member: Bystander, joints: FloatArray) -> list[dict[str, Any]]:
    """The true ready positions of at least SHORTEST_TRUTH_S."""
    rate = clip.frame_rate
    entries = []
    for spell in member.drill.spells:
        first = int(np.ceil(spell.start_s * rate - 1e-6))
        last = min(int(np.ceil(spell.end_s * rate - 1e-6)) - 1, len(joints) - 1)
        if (last - first) / rate < SHORTEST_TRUTH_S:
            continue
        measures = [measure(joints[k], member.player.hand) for k in range(first, last + 1)]
        entries.append(
            {
                "start_frame": first,
                "end_frame": last,
                "start_s": round(first / rate, 4),
                "end_s": round(last / rate, 4),
                **_median_measures(measures),
            }
        )
    return entries


def _median_measures(measures: Sequence[Measures]) -> dict[str, Any]:
    """Medians of each measure, and the class that follows from them."""

    def median(name: str, digits: int) -> Any:
        values = np.median([getattr(m, name) for m in measures], axis=0)
        return np.round(values, digits).tolist()

    middle = Measures(
        hip_yaw_deg=median("hip_yaw_deg", 2),
        shoulder_yaw_deg=median("shoulder_yaw_deg", 2),
        lead_angle_deg=median("lead_angle_deg", 2),
        foot_stagger_m=median("foot_stagger_m", 4),
        stance_width_m=median("stance_width_m", 4),
        knee_flexion_deg=median("knee_flexion_deg", 2),
        base_m=median("base_m", 4),
    )
    return {"class": middle.stance_class, **vars(middle)}


def marked_court(clip: Clip, noise_px: float, seed: int, most: int = 16) -> dict[str, Any]:
    """A court file as a coach would mark it: visible floor points, with marking noise.

    Parameters
    ----------
    clip : Clip
        The clip whose camera is used.
    noise_px : float
        Standard deviation of the marks, pixels.
    seed : int
        Of the marking noise.
    most : int
        How many points at most, spread over the picture.
    """
    rng = np.random.default_rng(seed)
    camera = clip.camera
    places = [p for name, p in court_points().items() if name.endswith(("corner", "centre"))]
    floor = np.array([[x, y, 0.0] for x, y in places])
    shown = camera.project(floor)
    size = np.array(camera.size)
    inside = (shown[:, :2] > 6).all(axis=1) & (shown[:, :2] < size - 6).all(axis=1)
    visible = np.flatnonzero(inside & (shown[:, 2] > 0.5))
    chosen = _spread(shown[visible, :2], most)
    points = []
    for index in visible[chosen]:
        pixel = shown[index, :2] + rng.normal(0, noise_px, 2)
        points.append(
            {
                "court": [round(float(v), 3) for v in floor[index, :2]],
                "pixel": [round(float(v), 1) for v in pixel],
            }
        )
    return {
        "schema": COURT_SCHEMA,
        "image_size": list(camera.size),
        "points": four_apart_first(points),
    }


def four_apart_first(points: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The points of a court file, first four of which no three lie near one line (if there are)."""
    for four in combinations(range(len(points)), 4):
        corners = np.array([points[k]["court"] for k in four])
        sides = [corners[list(three)] for three in combinations(range(4), 3)]
        areas = [abs(np.linalg.det(np.stack([b - a, c - a]))) / 2 for a, b, c in sides]
        if min(areas) > SMALLEST_TRIANGLE_M2:
            return [points[k] for k in four] + [
                point for k, point in enumerate(points) if k not in four
            ]
    return points


def _spread(pixels: FloatArray, most: int) -> list[int]:
    """Indices of up to `most` pixels (n, 2), each as far as can be from those before it."""
    chosen = [int(np.argmax(pixels[:, 1]))]
    while len(chosen) < min(most, len(pixels)):
        apart = np.linalg.norm(pixels[:, None] - pixels[chosen][None], axis=-1).min(axis=1)
        chosen.append(int(np.argmax(apart)))
    return chosen


def write_clip(clip: Clip, folder: Path, name: str) -> None:
    """Write NAME.mp4, NAME.truth.json and NAME.court.json into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{name}.mp4"
    with VideoWriter(path, clip.camera.size, clip.frame_rate, crf=clip.finish.crf) as video:
        for image, time_s in zip(frames(clip), clip.frame_times, strict=True):
            video.write(image, float(time_s))
    write_truth(clip, folder, name)


def write_truth(clip: Clip, folder: Path, name: str) -> None:
    """Write NAME.truth.json and NAME.court.json into a folder."""
    _write_json(folder / f"{name}.truth.json", clip_truth(clip))
    _write_json(folder / f"{name}.court.json", marked_court(clip, 0.7, clip.seed))


def _write_json(path: Path, content: dict[str, Any]) -> None:
    path.write_text(json.dumps(content) + "\n", encoding="utf-8")
