"""Renders what is missing of the stills, and reads them as the tool does."""

import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from stance.court.camera import Camera
from stance.measures.orientation import observe
from stance.measures.stance_measures import Measures, measure
from stance.people.landmarker import Landmarker
from stance.people.landmarks import Box
from stance.statistics.angles import wrap_degrees
from stance.types import FloatArray
from tests.evaluation.feet_sizes import KeptReadings, feet_sizes
from tests.rendering import measures as true_measures
from tests.rendering.path_traced.response import developed
from tests.rendering.path_traced.scenes import (
    PARTS,
    WINDOW_FACTOR,
    Scene,
    draw_scene,
    window_camera,
    write_scene,
)
from tests.rendering.path_traced.tracing import TRACER, picture_path, scene_path

MEASURES = ("hip_yaw", "lead_angle", "foot_stagger")

# The square in which the pose model looks for a player, times the player's size.
_BOX_FACTOR = 1.5


@dataclass(frozen=True)
class Readings:
    """What was read of stills, degrees and metres.

    Attributes
    ----------
    errors, sizes : (stills, measures) in the order of `MEASURES`: errors and standard errors
    feet_sizes : (stills, 2, 2) standard errors of lead angle and stagger, of those that the network
        itself predicts alone and of how far its two readings are apart
    view : (stills,) where the camera stood
    scene : (stills,) of one person before one camera
    missing : how many stills the pose model found nobody in
    """

    errors: FloatArray
    sizes: FloatArray
    feet_sizes: FloatArray
    view: np.ndarray
    scene: np.ndarray
    missing: int


def render_missing(folder: Path, part: str, scenes: int, tracer: str | None, workers: int) -> None:
    """Draw a part's scenes and have their rays traced, as far as they are not there.

    Parameters
    ----------
    tracer : the Python that has bpy; None where all pictures are there
    workers : processes
    """
    folder.mkdir(parents=True, exist_ok=True)
    missing = [seed for seed in range(scenes) if not picture_path(folder, seed, 0).exists()]
    if not missing:
        return
    if tracer is None:
        raise SystemExit(f"{len(missing)} scenes of {folder} have no pictures: give --tracer")
    for seed in missing:
        if not scene_path(folder, seed).exists():
            write_scene(draw_scene(seed, part), scene_path(folder, seed))
    processes = [
        subprocess.Popen([tracer, "-m", TRACER, "--share", f"{k}/{workers}", str(folder)])
        for k in range(workers)
    ]
    if any(process.wait() for process in processes):
        raise SystemExit(f"{tracer} could not trace the rays: it needs the package bpy")


def read(folder: Path, part: str, scenes: int) -> Readings:
    """Read a part's stills."""
    reader = KeptReadings()
    rows, missing = [], 0
    with Landmarker("full") as landmarker:
        for seed in range(scenes):
            scene = draw_scene(seed, part)
            for moment, picture in enumerate(_pictures(folder, part, seed, len(scene.joints))):
                row = _read_still(reader, landmarker, scene, moment, picture)
                if row is None:
                    missing += 1
                else:
                    rows.append((*row, scene.view, seed))
    errors, sizes, feet_sizes, view, scene_of = zip(*rows, strict=True)
    return Readings(
        np.array(errors),
        np.array(sizes),
        np.array(feet_sizes),
        np.array(view),
        np.array(scene_of),
        missing,
    )


def _pictures(folder: Path, part: str, seed: int, moments: int) -> Iterator[np.ndarray]:
    """The pictures of a scene, as its camera makes them."""
    for moment in range(moments):
        traced = cv2.imread(str(picture_path(folder, seed, moment)))
        assert traced is not None, picture_path(folder, seed, moment)
        rng = np.random.default_rng([712, PARTS.index(part), seed, moment])
        yield developed(rng, np.ascontiguousarray(traced[..., ::-1]))


def _read_still(
    reader: KeptReadings,
    landmarker: Landmarker,
    scene: Scene,
    moment: int,
    picture: np.ndarray,
) -> tuple[FloatArray, FloatArray, FloatArray] | None:
    """A still's errors, their sizes and `feet_sizes`; None where nobody is found."""
    seen = window_camera(scene.camera, scene.windows[moment])
    camera = Camera(seen.matrix, seen.rotation, seen.translation, seen.size)
    side = picture.shape[0]
    box = side / WINDOW_FACTOR * _BOX_FACTOR
    pose = landmarker.detect(picture, Box((side - box) / 2, (side - box) / 2, box))
    observation = None if pose is None else observe(reader, picture, pose, camera)
    found = None if observation is None else measure(camera, observation, scene.hand)
    if observation is None or found is None:
        return None
    true = true_measures.measure(scene.joints[moment], scene.hand)
    errors = np.array(
        [
            wrap_degrees(found.hip_yaw[0] - true.hip_yaw_deg),
            wrap_degrees(found.lead_angle[0] - true.lead_angle_deg),
            found.foot_stagger[0] - true.foot_stagger_m,
        ]
    )
    return errors, _sizes(found), feet_sizes(camera, observation, reader.readings, scene.hand)


def _sizes(measures: Measures) -> FloatArray:
    """Standard errors, in the order of `MEASURES`."""
    return np.array([getattr(measures, name)[1] for name in MEASURES])
