"""Scenes: a person in some stances before a camera in a hall, with their truth.

`draw_scene` draws everything from its seed; `write_scene` writes it as `tracer` reads it.
"""

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from tests.rendering.arrays import FloatArray
from tests.rendering.cameras import AZIMUTHS_DEG, VIEWS, Lens, ViewCamera, aim_camera
from tests.rendering.path_traced.halls import Hall, draw_hall
from tests.rendering.path_traced.models import Model
from tests.rendering.path_traced.people import draw_person, person_joints, person_models
from tests.rendering.stances import draw_stance

PARTS = ("tune", "test")
STANCES = 4

# The square around a person, times the person's size; crops reach 1.45 times the landmarks.
WINDOW_FACTOR = 1.55

# How large a person is in the picture, pixels.
SIZES_PX = (80.0, 190.0)

CAMERA_TRIES = 200

_SIZE = (1920, 1080)


@dataclass(frozen=True)
class Scene:
    """A person in some stances before one camera.

    `joints` (stances, 17, 3) in the order of `JOINT_NAMES`, court frame, metres; `camera` of the
    whole picture; `windows` (stances, 3): left, top and side of the squares to render, pixels.
    """

    view: str
    hand: str
    joints: FloatArray
    camera: ViewCamera
    windows: np.ndarray
    models: tuple[Model, ...]
    hall: Hall


def draw_scene(seed: int, part: str, stances: int = STANCES) -> Scene:
    """A scene, wholly determined by seed and part; view and hand follow from the seed in turn."""
    rng = np.random.default_rng([711, PARTS.index(part), seed])
    view = VIEWS[seed % len(VIEWS)]
    hand = ("right", "left")[seed // len(VIEWS) % 2]
    person = draw_person(rng, hand)
    camera = None
    while camera is None:
        base = (rng.uniform(-2.6, 2.6), rng.uniform(-6.0, -1.7))
        postures = [draw_stance(rng, person.skeleton, base) for _ in range(stances)]
        joints = person_joints(person, postures)
        tries = (_draw_camera(rng, view, joints) for _ in range(CAMERA_TRIES))
        camera = next((found for found in tries if found is not None), None)
    models = person_models(person, postures)
    windows = np.array([_window(camera, one) for one in joints])
    hall = draw_hall(rng, camera.centre)
    return Scene(view, hand, joints, camera, windows, (*models, *hall.models), hall)


def window_camera(camera: ViewCamera, window: Sequence[int]) -> ViewCamera:
    """The camera of a square window (left, top, side) of the picture."""
    left, top, side = (int(v) for v in window)
    matrix = np.array([[1.0, 0.0, -left], [0.0, 1.0, -top], [0.0, 0.0, 1.0]]) @ camera.matrix
    return ViewCamera(matrix, camera.rotation, camera.translation, (side, side))


def write_scene(scene: Scene, path: Path) -> None:
    """Write a scene for `tracer`: arrays, and the rest as JSON in `header`."""
    arrays: dict[str, np.ndarray] = {}
    for number, model in enumerate(scene.models):
        arrays[f"vertices{number}"] = np.asarray(model.vertices, np.float32)
        arrays[f"triangles{number}"] = np.asarray(model.triangles, np.int32)
    cameras = [window_camera(scene.camera, window) for window in scene.windows]
    header = {
        "models": [{"smooth": m.smooth, **asdict(m.surface)} for m in scene.models],
        "cameras": [
            {
                "focal": camera.focal,
                "middle": camera.matrix[:2, 2].tolist(),
                "rotation": camera.rotation.tolist(),
                "centre": camera.centre.tolist(),
                "side": camera.size[0],
            }
            for camera in cameras
        ],
        "lamps": [asdict(lamp) for lamp in scene.hall.lamps],
        "sky": scene.hall.sky,
        "look": scene.hall.look,
        "exposure": scene.hall.exposure,
    }
    unfinished = path.with_suffix(".part.npz")
    np.savez(unfinished, header=np.array(json.dumps(header)), **arrays)
    unfinished.replace(path)


def _draw_camera(rng: np.random.Generator, view: str, joints: FloatArray) -> ViewCamera | None:
    """A random camera for a view, or None where the drawn one does not show all stances well."""
    points = joints.reshape(-1, 3)
    middle = 0.5 * (points.min(axis=0) + points.max(axis=0))
    azimuth = np.radians(rng.uniform(*AZIMUTHS_DEG[view]) * rng.choice((-1, 1)))
    away = np.array([np.sin(azimuth), -np.cos(azimuth)])
    nearest = 3.0 if view != "front" else max(3.0, (0.5 - middle[1]) / away[1])
    position = np.array([*(middle[:2] + rng.uniform(nearest, 11.5) * away), rng.uniform(0.5, 4.0)])
    lens = Lens(_SIZE, float(rng.uniform(24.0, 75.0)))
    pixel = np.array(_SIZE) * (0.5 + np.clip(rng.normal(0, (0.16, 0.12)), -0.3, 0.3))
    camera = aim_camera(position, middle, tuple(pixel), lens, np.radians(rng.uniform(-3, 3)))
    shown = camera.project(joints)[..., :2]
    sizes = np.ptp(shown, axis=1).max(axis=1)
    inside = (shown > 8).all() and (shown < np.array(_SIZE) - 8).all()
    well = SIZES_PX[0] <= sizes.min() and sizes.max() <= SIZES_PX[1]
    return camera if inside and well else None


def _window(camera: ViewCamera, joints: FloatArray) -> tuple[int, int, int]:
    """Left, top and side of the square about a person, pixels."""
    shown = camera.project(joints)[:, :2]
    low, high = shown.min(axis=0), shown.max(axis=0)
    side = int(np.ceil(WINDOW_FACTOR * float((high - low).max())))
    left, top = np.floor((low + high) / 2 - side / 2).astype(int)
    return int(left), int(top), side
