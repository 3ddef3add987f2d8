"""Rendered clips of two defenders side by side, who at times change sides, with bystanders."""

from collections.abc import Sequence

import numpy as np

from tests.rendering.cameras import VIEWS, draw_camera
from tests.rendering.clips import (
    CAMERA_TRIES,
    FRAME_RATES,
    Bystander,
    Clip,
    draw_bystanders,
    draw_finish,
)
from tests.rendering.drill import draw_angle_list, draw_drill
from tests.rendering.hall import draw_hall
from tests.rendering.players import draw_player, pose_player
from tests.rendering.raster import Window
from tests.rendering.scene import render_empty
from tests.rendering.splits import generator

# Seeds of pair clips never meet those of single drills.
SEED_OFFSET = 3_000_000


def draw_pair_clip(
    seed: int,
    split: str,
    view: str | None = None,
    positions: int = 6,
    size: tuple[int, int] | None = None,
    frame_rate: float | None = None,
) -> Clip:
    """A random clip of two defenders, wholly determined by its arguments.

    In every second seed they change sides half way through, one passing behind the other.

    Parameters
    ----------
    seed : int
        Not negative; the view (where not given) follows from it in turn.
    split : {"train", "tune", "test"}
        Which bands of body, camera and hall settings to draw from.
    view : {"behind", "corner", "side", "front"}, optional
        Where the camera stands.
    positions : int
        Ready positions of each defender.
    size : (int, int), optional
        Width and height of the picture; drawn where not given.
    frame_rate : float, optional
        Drawn where not given.
    """
    rng = generator(seed + SEED_OFFSET, split)
    view = view or VIEWS[seed % len(VIEWS)]
    crosses = bool(seed // len(VIEWS) % 2)
    while True:
        pair = _draw_pair(rng, split, positions, crosses)
        moments = [
            pose_player(member.player, member.drill.posture(time_s)).mesh.vertices[::40]
            for member in pair
            for time_s in np.arange(0.0, member.drill.duration_s, 0.15)
        ]
        points = np.concatenate(moments)
        drawn = (draw_camera(rng, split, view, points) for _ in range(CAMERA_TRIES))
        camera = next((c for c in drawn if c is not None and size in (None, c.size)), None)
        if camera is not None:
            break
    hall = draw_hall(rng, split, camera.centre)
    finish = draw_finish(rng)
    first, second = pair
    return Clip(
        first.player,
        first.drill,
        camera,
        render_empty(hall, camera, Window(0, 0, *camera.size)),
        draw_bystanders(rng, split, camera, first.drill.duration_s),
        finish,
        frame_rate or float(rng.choice(FRAME_RATES)),
        view,
        split,
        seed,
        second,
    )


def _draw_pair(
    rng: np.random.Generator, split: str, positions: int, crosses: bool
) -> tuple[Bystander, Bystander]:
    """Two defenders, the left one first."""
    members = []
    depths = rng.uniform(-5.2, -2.8) + np.array([-0.5, 0.5]) * rng.choice((-1, 1))
    for side, depth in zip((-1, 1), depths, strict=True):
        hand = ("right", "left")[int(rng.uniform() < 0.3)]
        player = draw_player(rng, split, hand)
        across = side * rng.uniform(1.0, 1.9)
        homes = _homes(across, float(depth), positions, crosses, hand)
        angles = draw_angle_list(rng, positions)
        drill = draw_drill(rng, player.skeleton, homes, angles, longest_ready_s=1.4)
        members.append(Bystander(player, drill))
    return members[0], members[1]


def _homes(
    across: float, depth: float, positions: int, crosses: bool, hand: str
) -> Sequence[tuple[float, float]]:
    """Where a defender waits each time, in the frame of a right-hander."""
    mirror = 1.0 if hand == "right" else -1.0
    half = positions // 2
    return [
        (mirror * (-across if crosses and k >= half else across), depth) for k in range(positions)
    ]
