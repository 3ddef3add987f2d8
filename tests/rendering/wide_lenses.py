"""Lenses of action cameras, and drill clips filmed through them from nearby.

Two families: pictures bent as OpenCV's first two radial terms say, and fisheyes, equidistant and of
equal areas. The terms -0.35, 0.14 draw the corners out again beyond 45 degrees, as no fisheye does.
"""

from dataclasses import replace

import numpy as np

from tests.rendering.arrays import FloatArray
from tests.rendering.cameras import Lens, ViewCamera, WideLens, aim_camera
from tests.rendering.clips import Clip
from tests.rendering.players import pose_player
from tests.rendering.raster import Window
from tests.rendering.scene import render_empty
from tests.rendering.splits import generator

_RADII = np.linspace(0.0, 8.0, 8001)


def bent_by(first: float, second: float) -> WideLens:
    """A lens that shows r (1 + first r^2 + second r^4), in focal lengths, and never folds back."""
    shown = _RADII * (1.0 + first * _RADII**2 + second * _RADII**4)
    if np.any(np.diff(shown) <= 0):
        raise ValueError("such a lens would show some rays twice")
    return WideLens(_RADII, shown)


WIDE_LENSES = {
    "equidistant": WideLens(_RADII, np.arctan(_RADII)),
    "equal areas": WideLens(_RADII, 2 * np.sin(np.arctan(_RADII) / 2)),
    "-0.35, 0.14": bent_by(-0.35, 0.14),
    "-0.25, 0.07": bent_by(-0.25, 0.07),
    "-0.15, 0.02": bent_by(-0.15, 0.02),
    "+0.05, 0": bent_by(0.05, 0.0),
    "+0.1, 0": bent_by(0.1, 0.0),
}


def film_through(clip: Clip, lens: str) -> Clip:
    """A clip filmed from the same side, nearer, through a wide-angle lens of 15 to 22 mm.

    Parameters
    ----------
    clip : Clip
        Whose people, hall and size of picture are kept.
    lens : str
        One of `WIDE_LENSES`.
    """
    rng = generator(clip.seed + 7_000_000, clip.split)
    joints = pose_player(clip.player, clip.drill.posture(0.0)).joints
    home = joints.mean(axis=0)
    camera = aim_wide(rng, lens, home, clip.camera.centre - home, clip.camera.size)
    scene = render_empty(clip.scene.hall, camera, Window(0, 0, *camera.size))
    return replace(clip, camera=camera, scene=scene)


def aim_wide(
    rng: np.random.Generator,
    lens: str,
    home: FloatArray,
    away: FloatArray,
    size: tuple[int, int],
) -> ViewCamera:
    """A camera with a wide-angle lens of 15 to 22 mm that shows a place about its middle.

    Parameters
    ----------
    rng : Generator
        Source of all draws.
    lens : str
        One of `WIDE_LENSES`.
    home, away : (3,) arrays
        The place, court frame, metres, and where the camera is from there; of its distance on the
        floor no more than 3.5 to 6 m are kept.
    size : (int, int)
        Width and height, pixels.
    """
    away = away.copy()
    away[:2] *= min(1.0, rng.uniform(3.5, 6.0) / np.hypot(*away[:2]))
    pixel = np.array(size) * (0.5 + rng.uniform(-0.1, 0.1, 2))
    phone = Lens(size, rng.uniform(15.0, 22.0))
    camera = aim_camera(home + away, home, tuple(pixel), phone, np.radians(rng.uniform(-3, 3)))
    return replace(camera, wide=WIDE_LENSES[lens])
