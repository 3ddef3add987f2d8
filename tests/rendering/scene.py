"""Putting figures, net and shadows into a hall that is rendered once."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from tests.rendering.arrays import FloatArray
from tests.rendering.cameras import ViewCamera
from tests.rendering.hall import Hall
from tests.rendering.hall_picture import render_hall
from tests.rendering.net import render_net
from tests.rendering.players import PosedPlayer
from tests.rendering.raster import Layer, Window, draw, over
from tests.rendering.rays import pixel_rays
from tests.rendering.shadows import floor_shadow

SHADOW_REACH_M = 1.6


@dataclass(frozen=True)
class EmptyScene:
    """A hall without people, as a camera sees it in a window.

    `background` (h, w, 3) linear light without the net; `place` (h, w, 2) court-frame x and y of
    the floor, NaN elsewhere; `net` the net, tape and posts as a layer.
    """

    hall: Hall
    camera: ViewCamera
    window: Window
    background: FloatArray
    place: FloatArray
    net: Layer

    def part(self, window: Window) -> "EmptyScene":
        """The part of the scene in a smaller window."""
        left, top = window.left - self.window.left, window.top - self.window.top
        box = (slice(top, top + window.height), slice(left, left + window.width))
        net = Layer(self.net.colour[box], self.net.cover[box])
        return replace(
            self, window=window, background=self.background[box], place=self.place[box], net=net
        )


def render_empty(hall: Hall, camera: ViewCamera, window: Window) -> EmptyScene:
    """Render a hall without people."""
    rays = pixel_rays(camera, window)
    background, place = render_hall(hall, camera, rays)
    return EmptyScene(hall, camera, window, background, place, render_net(hall, camera, rays))


def compose(
    scene: EmptyScene, figures: Sequence[Sequence[PosedPlayer]], softness: float
) -> FloatArray:
    """The scene with figures, far ones first, and the net where it belongs.

    Parameters
    ----------
    scene : EmptyScene
        The hall.
    figures : sequence of sequences of PosedPlayer
        Each figure at one or more moments while the shutter is open.
    softness : float
        Radius of the shadows' soft edge, metres.

    Returns
    -------
    (h, w, 3) array
        Linear light.
    """
    camera, lighting = scene.camera, scene.hall.lighting
    vertices = [moments[0].mesh.vertices for moments in figures]
    light = floor_shadow(scene.place, vertices, lighting, softness)
    image = scene.background * light[..., None]
    near_half = np.sign(camera.centre[1])

    def is_before_net(moments: Sequence[PosedPlayer]) -> bool:
        return bool(np.sign(moments[0].joints[:, 1].mean()) == near_half)

    def distance(moments: Sequence[PosedPlayer]) -> float:
        return float(np.linalg.norm(moments[0].joints.mean(axis=0) - camera.centre))

    ordered = sorted(figures, key=distance, reverse=True)
    for moments in [figure for figure in ordered if not is_before_net(figure)]:
        image = over(_blurred(scene, moments), image)
    image = over(scene.net, image)
    for moments in [figure for figure in ordered if is_before_net(figure)]:
        image = over(_blurred(scene, moments), image)
    return image


def _blurred(scene: EmptyScene, moments: Sequence[PosedPlayer]) -> Layer:
    """A figure averaged over the moments while the shutter is open."""
    layers = [
        draw(moment.mesh, scene.camera, scene.window, scene.hall.lighting) for moment in moments
    ]
    if len(layers) == 1:
        return layers[0]
    return Layer(
        np.mean([layer.colour for layer in layers], axis=0),
        np.mean([layer.cover for layer in layers], axis=0),
    )


def figure_window(camera: ViewCamera, whole: Window, figures: Sequence[PosedPlayer]) -> Window:
    """The part of a window that figures and their shadows can touch, with a margin."""
    points = []
    for figure in figures:
        middle = figure.joints[:, :2].mean(axis=0)
        corners = middle + SHADOW_REACH_M * np.array([[-1, -1], [-1, 1], [1, -1], [1, 1]])
        points.append(np.concatenate([corners, np.zeros((4, 1))], axis=1))
        points.append(figure.mesh.vertices)
    shown = camera.project(np.concatenate(points))
    shown = shown[shown[:, 2] > 0.3]
    if not len(shown):
        return Window(whole.left, whole.top, 1, 1)
    last = (whole.left + whole.width, whole.top + whole.height)
    low = np.clip(np.floor(shown[:, :2].min(axis=0)) - 8, (whole.left, whole.top), last)
    high = np.clip(np.ceil(shown[:, :2].max(axis=0)) + 8, (whole.left, whole.top), last)
    size = np.maximum(high - low, 1)
    return Window(int(low[0]), int(low[1]), int(size[0]), int(size[1]))
