"""Cameras as players set up their phones: behind, rear corner, side, in front beyond the net.

A camera's pixel is K (R X + t), pixel origin at the top left corner of the top left pixel.
"""

from dataclasses import dataclass

import numpy as np

from tests.rendering.arrays import FloatArray
from tests.rendering.rotations import turn_z
from tests.rendering.splits import comb

VIEWS = ("behind", "corner", "side", "front")
SIZES = ((1280, 720), (1920, 1080), (720, 1280), (1080, 1920))
LONG_SIDE_MM = 36.0
# Direction from the player to the camera, degrees from straight behind.
AZIMUTHS_DEG = {"behind": (0, 17), "corner": (20, 62), "side": (65, 112), "front": (145, 180)}
SMALLEST_PLAYER_PX = 70


@dataclass(frozen=True, eq=False)
class WideLens:
    """A lens that bends strongly: what falls at `radii` without it is drawn at `shown`.

    Both (n,) in focal lengths from the middle of the picture, growing, on straight lines between.
    """

    radii: FloatArray
    shown: FloatArray

    def bend(self, plane: FloatArray) -> FloatArray:
        """Where it draws what a pinhole draws at (..., 2)."""
        return _at_radius(plane, self.radii, self.shown)

    def straighten(self, plane: FloatArray) -> FloatArray:
        """Where a pinhole draws what it draws at (..., 2)."""
        return _at_radius(plane, self.shown, self.radii)


@dataclass(frozen=True)
class ViewCamera:
    """A camera of the renderer: pinhole `matrix` K, `rotation` R, `translation` t, and lens.

    `distortion` is the first radial coefficient: what falls at radius r (in focal lengths) without
    it is drawn at r (1 + distortion r^2). With a `wide` lens that one bends instead.
    """

    matrix: FloatArray
    rotation: FloatArray
    translation: FloatArray
    size: tuple[int, int]
    distortion: float = 0.0
    wide: WideLens | None = None

    @property
    def centre(self) -> FloatArray:
        """Where the camera is, (3,) metres, court frame."""
        return -self.rotation.T @ self.translation

    @property
    def focal(self) -> float:
        """Focal length in pixels."""
        return float(self.matrix[0, 0])

    def project(self, points: FloatArray) -> FloatArray:
        """Pixels (..., 2) and depth in metres, as (..., 3), of points (..., 3)."""
        local = points @ self.rotation.T + self.translation
        depth = local[..., 2:]
        plane = local[..., :2] / np.maximum(depth, 1e-3)
        if self.wide is not None:
            pixels = self.focal * self.wide.bend(plane) + self.matrix[:2, 2]
            return np.concatenate([pixels, depth], axis=-1)
        radius = np.minimum(np.sum(plane**2, axis=-1, keepdims=True), 1.0)
        plane = plane * (1.0 + self.distortion * radius)
        pixels = self.focal * plane + self.matrix[:2, 2]
        return np.concatenate([pixels, depth], axis=-1)


@dataclass(frozen=True)
class Lens:
    """A phone's picture and lens.

    `size` width and height in pixels; `equivalent_mm` the focal length for a picture whose long
    side is 36 mm; `distortion` as in `ViewCamera`; `middle` the principal point in pixels, by
    default the picture's middle.
    """

    size: tuple[int, int]
    equivalent_mm: float
    distortion: float = 0.0
    middle: tuple[float, float] | None = None


def aim_camera(
    position: FloatArray,
    point: FloatArray,
    pixel: tuple[float, float],
    lens: Lens,
    roll: float = 0.0,
) -> ViewCamera:
    """A camera at `position` that shows `point` at `pixel` and is rolled by `roll` radians.

    Parameters
    ----------
    position, point : (3,) arrays
        Camera and target, court frame, metres.
    pixel : (float, float)
        Where the target shows.
    lens : Lens
        The picture's size and the lens.
    roll : float
        Turn about the viewing axis, radians.
    """
    size = lens.size
    focal = max(size) * lens.equivalent_mm / LONG_SIDE_MM
    cx, cy = lens.middle or (size[0] / 2, size[1] / 2)
    ray = np.array([(pixel[0] - cx) / focal, (pixel[1] - cy) / focal, 1.0])
    a, b, c = turn_z(-roll) @ (ray / np.linalg.norm(ray))
    direction = (point - position) / np.linalg.norm(point - position)
    tilt = np.arcsin(np.clip(-direction[2] / np.hypot(b, c), -1, 1)) - np.arctan2(b, c)
    forward_part = c * np.cos(tilt) - b * np.sin(tilt)
    pan = np.arctan2(direction[0], direction[1]) - np.arctan2(a, forward_part)
    right = np.array([np.cos(pan), -np.sin(pan), 0.0])
    level = np.array([np.sin(pan), np.cos(pan), 0.0])
    up = np.array([0.0, 0.0, 1.0])
    forward = np.cos(tilt) * level - np.sin(tilt) * up
    down = -np.sin(tilt) * level - np.cos(tilt) * up
    rotation = turn_z(roll) @ np.stack([right, down, forward])
    matrix = np.array([[focal, 0.0, cx], [0.0, focal, cy], [0.0, 0.0, 1.0]])
    return ViewCamera(matrix, rotation, -rotation @ position, size, lens.distortion)


def draw_camera(
    rng: np.random.Generator, split: str, view: str, points: FloatArray
) -> ViewCamera | None:
    """A random camera for a view, or None where the drawn one would cut the player off.

    Parameters
    ----------
    rng : Generator
        Source of all draws.
    split : {"train", "tune", "test"}
        Whose bands of distance, height and lens to use.
    view : {"behind", "corner", "side", "front"}
        From where, seen from a player who faces the net.
    points : (n, 3) array
        What must be wholly in the picture (joints, racket), court frame, metres.
    """
    middle = 0.5 * (points.min(axis=0) + points.max(axis=0))
    azimuth = np.radians(rng.uniform(*AZIMUTHS_DEG[view]) * rng.choice((-1, 1)))
    away = np.array([np.sin(azimuth), -np.cos(azimuth)])
    nearest = 3.0 if view != "front" else max(3.0, (0.4 - middle[1]) / away[1])
    distance = nearest + (12.0 - nearest) * comb(rng, split) ** 1.2
    height = 1.0 + 2.5 * comb(rng, split)
    position = np.array([*(middle[:2] + distance * away), height])
    size = SIZES[rng.choice(4, p=(0.4, 0.25, 0.15, 0.2))]
    equivalent_mm = 24.0 + 53.0 * comb(rng, split) ** 2.0
    roll = np.radians(rng.uniform(-3, 3))
    distortion = float(rng.uniform(-0.04, 0.04)) if rng.uniform() < 0.4 else 0.0
    principal = tuple(np.array(size) / 2 + rng.normal(0, 0.003 * max(size), 2))
    pixel = np.array(size) * (0.5 + np.clip(rng.normal(0, (0.14, 0.12)), -0.35, 0.35))
    lens = Lens(size, equivalent_mm, distortion, principal)
    camera = aim_camera(position, middle, tuple(pixel), lens, roll)
    return camera if shows_all(camera, points) else None


def shows_all(camera: ViewCamera, points: FloatArray) -> bool:
    """Whether all points (n, 3) are in the picture, with a margin and not too small."""
    shown = camera.project(points)
    low, high = shown[:, :2].min(axis=0), shown[:, :2].max(axis=0)
    margin = 0.06 * (high[1] - low[1])
    inside = (low > margin).all() and (high < np.array(camera.size) - margin).all()
    return bool(inside and shown[:, 2].min() > 0.5 and high[1] - low[1] >= SMALLEST_PLAYER_PX)


def _at_radius(plane: FloatArray, before: FloatArray, after: FloatArray) -> FloatArray:
    """Points (..., 2) moved from radii `before` to radii `after`."""
    radius = np.linalg.norm(plane, axis=-1, keepdims=True)
    return plane * np.interp(radius, before, after) / np.maximum(radius, 1e-12)
