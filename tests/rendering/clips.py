"""Random drill clips: everything that determines their pictures and their truth."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.rendering.arrays import FloatArray
from tests.rendering.cameras import VIEWS, ViewCamera, draw_camera
from tests.rendering.drill import Drill, draw_angle_list, draw_drill
from tests.rendering.hall import draw_hall
from tests.rendering.players import Player, draw_player, pose_player
from tests.rendering.posture import Moving
from tests.rendering.raster import Window
from tests.rendering.scene import EmptyScene, render_empty
from tests.rendering.splits import generator

FRAME_RATES = (30.0, 30.0, 30.0, 25.0, 50.0, 60.0)
CAMERA_TRIES = 400


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
    drill: Moving


@dataclass(frozen=True)
class Clip:
    """Everything that determines a rendered clip; `frame_times` (frames,) seconds.

    `shutter_s` is how long the shutter is open; by default a share of the time between frames.
    """

    player: Player
    drill: Moving
    camera: ViewCamera
    scene: EmptyScene
    bystanders: tuple[Bystander, ...]
    finish: Finish
    frame_rate: float
    view: str
    split: str
    seed: int
    partner: Bystander | None = None
    shutter_s: float | None = None

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


def draw_bystanders(
    rng: np.random.Generator, split: str, camera: ViewCamera, duration_s: float
) -> tuple[Bystander, ...]:
    """At times a feeder beyond the net, and people beside the court behind the players."""
    places = []
    if rng.uniform() < 0.5:
        places.append((rng.uniform(-1.5, 1.5), rng.uniform(2.0, 5.0)))
    if rng.uniform() < 0.4:
        places.append((rng.choice((-1, 1)) * rng.uniform(3.6, 5.0), rng.uniform(-5.0, 5.0)))
    people = [bystander_at(rng, split, camera, duration_s, place) for place in places]
    return tuple(person for person in people if person is not None)


def bystander_at(
    rng: np.random.Generator,
    split: str,
    camera: ViewCamera,
    duration_s: float,
    place: tuple[float, float],
) -> Bystander | None:
    """Somebody with a drill of their own about a place, or None where they would hide too much."""
    player = draw_player(rng, split, ("right", "left")[rng.integers(2)])
    mirror = 1.0 if player.hand == "right" else -1.0
    home = (mirror * place[0], place[1])
    nearness = np.linalg.norm(np.array(place) - camera.centre[:2])
    between = 0.0 < place[1] < camera.centre[1] + 1.0 or nearness < 6.0
    if between:
        return None
    angles = draw_angle_list(rng, max(2, int(duration_s / 2.5)))
    return Bystander(player, draw_drill(rng, player.skeleton, home, angles, 3.0))


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
