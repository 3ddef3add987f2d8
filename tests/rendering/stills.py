"""Single rendered ready positions with their truth, for training and testing.

`render_still` draws everything from its seed: person, stance, hall, camera, bystanders, light and
the flaws of a phone's picture. Only a window around the player is rendered, at the resolution of
the full picture. `render_series` lets the same person take further stances there, which costs a
third, and can lower the resolution. How splits differ: see `splits`.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from io import BytesIO

import numpy as np
from PIL import Image
from scipy.ndimage import gaussian_filter

from tests.rendering.arrays import FloatArray, Picture
from tests.rendering.cameras import VIEWS, ViewCamera, draw_camera
from tests.rendering.hall import draw_hall
from tests.rendering.light import encode
from tests.rendering.measures import Measures, measure
from tests.rendering.players import Player, PosedPlayer, draw_player, pose_player
from tests.rendering.raster import Window
from tests.rendering.scene import compose, render_empty
from tests.rendering.splits import generator
from tests.rendering.stances import draw_stance

WINDOW_FACTOR = 2.0
CAMERA_TRIES = 60


@dataclass(frozen=True)
class Still:
    """One rendered ready position.

    `image` (h, w, 3) uint8 RGB is the window whose top left pixel is `offset` (left, top) in the
    full picture of `camera.size`. `joints` (17, 3) are in the order of skeleton.JOINT_NAMES, court
    frame, metres. `camera` is the pinhole; `camera.distortion` is not part of what a tool may know.
    """

    image: Picture
    offset: tuple[int, int]
    camera: ViewCamera
    hand: str
    view: str
    stature_m: float
    joints: FloatArray
    measures: Measures


def render_still(seed: int, split: str) -> Still:
    """One random ready position, wholly determined by seed and split.

    Parameters
    ----------
    seed : int
        Not negative; view and hand follow from it in turn, so that all are equally frequent.
    split : {"train", "tune", "test"}
        Which bands of body, camera and hall settings to draw from.
    """
    return next(render_series(seed, split, 1))


def render_series(seed: int, split: str, count: int, tallest_px: float = np.inf) -> Iterator[Still]:
    """Ready positions of one person in one place before one camera; the first as `render_still`.

    Parameters
    ----------
    seed, split : as in `render_still`
    count : int
        How many.
    tallest_px : float
        The picture is made smaller until the first stance is at most this large.

    Yields
    ------
    Still
    """
    rng = generator(seed, split)
    view = VIEWS[seed % len(VIEWS)]
    hand = ("right", "left")[seed // len(VIEWS) % 2]
    player = draw_player(rng, split, hand)
    base, posed, camera = _place(rng, split, view, player)
    camera = _smaller(camera, posed, tallest_px)
    hall = draw_hall(rng, split, camera.centre)
    window = _window(rng, camera, posed)
    bystanders = _bystanders(rng, split, camera, posed)
    scene = render_empty(hall, camera, window)
    for number in range(count):
        if number:
            posed = pose_player(player, draw_stance(rng, player.skeleton, base))
        figures = [(figure,) for figure in (posed, *bystanders)]
        image = compose(scene, figures, softness=rng.uniform(0.04, 0.2))
        yield Still(
            image=phone_picture(rng, image),
            offset=(window.left, window.top),
            camera=camera,
            hand=hand,
            view=view,
            stature_m=player.skeleton.body.phenotype.stature_m,
            joints=posed.joints,
            measures=measure(posed.joints, hand),
        )


def _place(
    rng: np.random.Generator, split: str, view: str, player: Player
) -> tuple[tuple[float, float], PosedPlayer, ViewCamera]:
    """A base in the near half, a stance there and a camera that shows all of it."""
    while True:
        base = (rng.uniform(-2.5, 2.5), rng.uniform(-5.8, -1.8))
        posed = pose_player(player, draw_stance(rng, player.skeleton, base))
        for _ in range(CAMERA_TRIES):
            camera = draw_camera(rng, split, view, posed.mesh.vertices[::20])
            if camera is not None:
                return base, posed, camera


def _smaller(camera: ViewCamera, posed: PosedPlayer, tallest_px: float) -> ViewCamera:
    """The camera with so many pixels that a player is at most this large."""
    large = float(np.ptp(camera.project(posed.joints)[:, :2], axis=0).max())
    if large <= tallest_px:
        return camera
    width, height = (round(side * tallest_px / large) for side in camera.size)
    scale = np.diag([tallest_px / large, tallest_px / large, 1.0])
    return replace(camera, matrix=scale @ camera.matrix, size=(width, height))


def _window(rng: np.random.Generator, camera: ViewCamera, posed: PosedPlayer) -> Window:
    """A square around the player, shifted a little and clipped to the picture."""
    shown = camera.project(posed.joints)[:, :2]
    low, high = shown.min(axis=0), shown.max(axis=0)
    height = max(high[1] - low[1], 0.8 * (high[0] - low[0]))
    middle = 0.5 * (low + high) + rng.uniform(-0.15, 0.15, 2) * height
    half = 0.5 * WINDOW_FACTOR * height
    first = np.floor(np.clip(middle - half, 0, camera.size)).astype(int)
    last = np.ceil(np.clip(middle + half, 0, camera.size)).astype(int)
    return Window(int(first[0]), int(first[1]), int(last[0] - first[0]), int(last[1] - first[1]))


def _bystanders(
    rng: np.random.Generator, split: str, camera: ViewCamera, posed: PosedPlayer
) -> list[PosedPlayer]:
    """A partner, people around the court, at times in front of the player."""
    count = int(rng.choice(4, p=(0.45, 0.3, 0.15, 0.1)))
    people = []
    own = posed.joints[:, :2].mean(axis=0)
    for _ in range(count):
        person = draw_player(rng, split, ("right", "left")[rng.integers(2)])
        place = own + rng.uniform(0.9, 4.5) * _direction(rng.uniform(0, 2 * np.pi))
        if np.linalg.norm(place - camera.centre[:2]) < 2.0:
            continue
        mirror = 1.0 if person.hand == "right" else -1.0
        stance = draw_stance(rng, person.skeleton, (mirror * place[0], place[1]))
        people.append(pose_player(person, stance))
    return [person for person in people if _mostly_clear(camera, posed, person)]


def _direction(angle: float) -> FloatArray:
    return np.array([np.cos(angle), np.sin(angle)])


def _mostly_clear(camera: ViewCamera, player: PosedPlayer, person: PosedPlayer) -> bool:
    """Whether a person hides at most a small part of the player."""
    own, other = camera.project(player.joints), camera.project(person.joints)
    if other[:, 2].mean() > own[:, 2].mean():
        return True
    low, high = other[:, :2].min(axis=0), other[:, :2].max(axis=0)
    hidden = ((own[:, :2] > low) & (own[:, :2] < high)).all(axis=1)
    return bool(hidden.mean() < 0.25)


def phone_picture(rng: np.random.Generator, image: FloatArray) -> Picture:
    """What a phone makes of linear light: exposure, white balance, blur, noise, compression."""
    gains = rng.uniform(0.6, 1.35) * np.clip(1.0 + rng.normal(0, 0.06, 3), 0.8, 1.25)
    blur = rng.uniform(0.3, 1.1)
    softened = gaussian_filter(image, (blur, blur, 0), truncate=3.0) * gains.astype(np.float32)
    grain = rng.standard_normal(image.shape, dtype=np.float32)
    grain = gaussian_filter(grain, (0.5, 0.5, 0), truncate=3.0) * np.float32(rng.uniform(0, 0.06))
    noisy = softened + grain * np.sqrt(np.clip(softened, 0.01, 1.0))
    return _compressed(encode(noisy), int(rng.integers(30, 93)))


def _compressed(image: Picture, quality: int) -> Picture:
    """The picture after lossy compression at a JPEG quality."""
    buffer = BytesIO()
    Image.fromarray(image).save(buffer, "JPEG", quality=quality)
    return np.array(Image.open(buffer))
