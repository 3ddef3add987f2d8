"""The sample clip in sample_clips/: an invented drill, seen from the rear corner."""

import numpy as np

from tests.rendering.cameras import Lens, aim_camera
from tests.rendering.clips import Clip, Finish
from tests.rendering.drill import draw_drill
from tests.rendering.hall import draw_hall
from tests.rendering.players import draw_player
from tests.rendering.raster import Window
from tests.rendering.scene import render_empty
from tests.rendering.splits import generator

NAME = "rear_corner_drill"
SEED = 36
SIZE = (1280, 720)
FRAME_RATE = 30.0
# Lead angle and hip yaw, degrees, of each ready position.
ANGLES_DEG = (
    (-4.0, -2.0),
    (-22.0, -15.0),
    (-52.0, -48.0),
    (2.0, 4.0),
    (-27.0, -8.0),
    (-12.0, -54.0),
    (5.0, -5.0),
    (-18.0, -24.0),
)


def sample_clip() -> Clip:
    """The sample clip: a right-hander, 1280 x 720, 30 frames/s, phone 2.2 m high."""
    rng = generator(SEED, "test")
    player = draw_player(rng, "test", "right")
    drill = draw_drill(rng, player.skeleton, (-0.3, -3.9), ANGLES_DEG, longest_ready_s=0.55)
    camera = aim_camera(
        position=np.array([3.9, -9.3, 2.2]),
        point=np.array([-0.2, -4.0, 0.7]),
        pixel=(640.0, 390.0),
        lens=Lens(SIZE, 26.0),
        roll=np.radians(0.8),
    )
    hall = draw_hall(rng, "test", camera.centre)
    finish = Finish(np.full(3, 1.05), blur=0.6, grain=0.006, shake_px=0.0, softness=0.1, crf=25.0)
    scene = render_empty(hall, camera, Window(0, 0, *SIZE))
    return Clip(player, drill, camera, scene, (), finish, FRAME_RATE, "corner", "test", SEED)
