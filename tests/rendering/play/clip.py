"""Random clips of play: the plan with all motion, and the pictures' clip that follows from it.

A plan needs no picture: thousands are drawn in minutes to train on true motion.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from tests.rendering.arrays import BoolArray, FloatArray
from tests.rendering.body import make_body
from tests.rendering.cameras import VIEWS, ViewCamera, draw_camera
from tests.rendering.clips import Bystander, Clip, bystander_at, draw_finish
from tests.rendering.hall import draw_hall
from tests.rendering.people import draw_phenotype
from tests.rendering.play.attacker import (
    FEEDER,
    NOBODY,
    OUT,
    PLAYER,
    compose_attacker,
    compose_feeder,
)
from tests.rendering.play.defender import compose_defender
from tests.rendering.play.joints import motion_joints, with_legs_that_reach
from tests.rendering.play.motion import Motion
from tests.rendering.play.rally import FEED, RALLY, SHADOW, Rally, draw_rally, share_rally
from tests.rendering.players import draw_dressed
from tests.rendering.raster import Window
from tests.rendering.scene import render_empty
from tests.rendering.skeleton import JOINT_NAMES, Skeleton, leg_lengths, make_skeleton
from tests.rendering.splits import SPLITS

# Seeds of clips of play never meet those of drills; each part of a clip has draws of its own, so
# that the motion of a seed is the same with and without pictures.
PARTS = {"plan": 5_000_000, "defender": 6_000_000, "attacker": 7_000_000, "camera": 8_000_000}
PARTS |= {"look": 9_000_000, "sound": 10_000_000}
FRAME_RATES = (24.0, 25.0, 30.0, 30.0, 30.0, 50.0, 60.0, 60.0)
SHUTTERS_S = (1 / 1000, 1 / 50)
VIEW_SHARES = (0.45, 0.3, 0.15, 0.1)
FEED_SHARE, SHADOW_SHARE, SILENT_SHARE = 0.25, 0.1, 1 / 3
BESIDE_SHARE = 0.3  # of clips, somebody beside the court
COMPOSE_TRIES, CAMERA_TRIES = 40, 300
CLOSEST_PARTNERS_M = 0.7
LOWEST_HIPS = 0.22  # of the stature
SMALLEST_SHARE = 0.16  # of the picture's shorter side: the defender
WRISTS = [JOINT_NAMES.index(f"{side}_wrist") for side in ("left", "right")]
ANKLES = [JOINT_NAMES.index(f"{side}_ankle") for side in ("left", "right")]


@dataclass(frozen=True)
class Options:
    """What a caller may ask for; drawn from the seed where None.

    `strokes` how many strokes are faced; `pair` whether two defend; `rally` the plan, against a
    player in the picture.
    """

    view: str | None = None
    size: tuple[int, int] | None = None
    frame_rate: float | None = None
    strokes: int = 6
    pair: bool = False
    rally: Rally | None = None


@dataclass(frozen=True)
class Person:
    """Somebody who moves through a rally, as it is for them."""

    skeleton: Skeleton
    hand: str
    motion: Motion
    rally: Rally

    def joints(self, times: FloatArray) -> FloatArray:
        """Joints (times, 17, 3), court frame, metres."""
        return motion_joints(self.skeleton, self.motion, times, self.hand)

    def planted(self, times: FloatArray) -> BoolArray:
        """Whether racket foot and other foot are planted, (times, 2)."""
        return np.stack([foot.planted_at(times) for foot in self.motion.feet], axis=1)


@dataclass(frozen=True)
class Play:
    """All of a clip of play but its looks.

    `opposite` is PLAYER, FEEDER, OUT (beyond the net, but not in the picture) or NOBODY, who does
    not strike at all; `attacker` is None for the latter two. `partner` is the second defender of a
    pair.
    """

    seed: int
    split: str
    view: str
    defender: Person
    attacker: Person | None
    opposite: str
    camera: ViewCamera
    frame_rate: float
    shutter_s: float
    silent: bool
    partner: Person | None = None

    @property
    def rally(self) -> Rally:
        """What happens when, as it is for the defender."""
        return self.defender.rally

    @property
    def defenders(self) -> tuple[Person, ...]:
        """The defender and, in a clip of a pair, the partner."""
        return (self.defender,) if self.partner is None else (self.defender, self.partner)

    @property
    def frame_times(self) -> FloatArray:
        """Time of each frame, seconds."""
        return np.arange(int(self.rally.duration_s * self.frame_rate)) / self.frame_rate


def source(seed: int, split: str, part: str) -> np.random.Generator:
    """The draws of one part of a clip; those of different splits never meet."""
    return np.random.default_rng([SPLITS.index(split), seed, PARTS[part]])


def draw_play(seed: int, split: str, options: Options | None = None) -> Play:
    """A random clip of play without its looks, wholly determined by its arguments.

    Parameters
    ----------
    seed : int
        Not negative.
    split : {"train", "tune", "test"}
        Which bands of body, camera and hall settings to draw from.
    options : Options, optional
        What is not to be drawn.
    """
    options = options or Options()
    rng = source(seed, split, "plan")
    kind, opposite = _draw_kind(rng)
    rate = options.frame_rate or float(rng.choice(FRAME_RATES))
    shutter = min(float(np.exp(rng.uniform(*np.log(SHUTTERS_S)))), 0.9 / rate)
    silent = bool(rng.uniform() < SILENT_SHARE)
    view = options.view or str(rng.choice(VIEWS, p=VIEW_SHARES))
    rallies = [draw_rally(rng, kind, options.strokes)]
    if options.rally:
        rallies, opposite = [options.rally], PLAYER
    if options.pair:
        rallies = list(share_rally(rng, rallies[0]))
    attacker = _draw_attacker(source(seed, split, "attacker"), split, rallies[0], opposite)
    defender_rng, camera_rng = source(seed, split, "defender"), source(seed, split, "camera")
    camera = None
    while camera is None:
        defenders = _draw_defenders(defender_rng, split, rallies)
        camera = _camera_for(camera_rng, split, view, (defenders, attacker), options.size)
    return Play(
        seed=seed,
        split=split,
        view=view,
        defender=defenders[0],
        attacker=attacker,
        opposite=opposite,
        camera=camera,
        frame_rate=rate,
        shutter_s=shutter,
        silent=silent,
        partner=defenders[1] if options.pair else None,
    )


def play_clip(play: Play) -> Clip:
    """What the pictures of a clip of play are made from."""
    rng = source(play.seed, play.split, "look")
    dressed = [draw_dressed(rng, person.skeleton, person.hand) for person in play.defenders]
    first, *partner = [
        Bystander(player, person.motion)
        for player, person in zip(dressed, play.defenders, strict=True)
    ]
    others = []
    if play.attacker is not None:
        attacker = draw_dressed(rng, play.attacker.skeleton, play.attacker.hand)
        others.append(Bystander(attacker, play.attacker.motion))
    if rng.uniform() < BESIDE_SHARE:
        place = (rng.choice((-1, 1)) * rng.uniform(3.6, 5.0), rng.uniform(-5.0, 5.0))
        duration_s = play.rally.duration_s
        beside = bystander_at(rng, play.split, play.camera, duration_s, place)
        others += [] if beside is None else [beside]
    hall = draw_hall(rng, play.split, play.camera.centre)
    # A dim hall: the shorter the shutter is open, the noisier.
    grain = rng.uniform(0.006, 0.03) * (play.shutter_s / SHUTTERS_S[1]) ** -0.25
    finish = replace(draw_finish(rng), grain=float(grain))
    return Clip(
        first.player,
        first.drill,
        play.camera,
        render_empty(hall, play.camera, Window(0, 0, *play.camera.size)),
        tuple(others),
        finish,
        play.frame_rate,
        play.view,
        play.split,
        play.seed,
        partner[0] if partner else None,
        shutter_s=play.shutter_s,
    )


def _draw_kind(rng: np.random.Generator) -> tuple[str, str]:
    """What kind of clip it is, and who is beyond the net."""
    kind = rng.uniform()
    if kind < FEED_SHARE:
        return FEED, FEEDER if rng.uniform() < 0.65 else OUT
    if kind < FEED_SHARE + SHADOW_SHARE:
        return SHADOW, NOBODY
    return RALLY, PLAYER if rng.uniform() < 0.8 else OUT


def _draw_attacker(
    rng: np.random.Generator, split: str, rally: Rally, opposite: str
) -> Person | None:
    """The person beyond the net, or None."""
    if opposite in (OUT, NOBODY):
        return None
    compose = compose_attacker if opposite == PLAYER else compose_feeder
    return _draw_person(rng, split, rally, lambda skeleton, _: compose(rng, skeleton, rally))


def _draw_defenders(rng: np.random.Generator, split: str, rallies: Sequence[Rally]) -> list[Person]:
    """The defender, or two who keep out of each other's way, on either side."""
    if len(rallies) == 1:
        (rally,) = rallies
        return [_draw_person(rng, split, rally, lambda s, _: compose_defender(rng, s, rally))]
    first_side = int(rng.choice((-1, 1)))
    members = []
    for rally, side in zip(rallies, (first_side, -first_side), strict=True):

        def compose(skeleton: Skeleton, mirror: int, rally=rally, side=side) -> Motion:
            return compose_defender(rng, skeleton, rally, side * mirror)

        members.append(_draw_person(rng, split, rally, compose))
    times = np.arange(0.0, rallies[0].duration_s, 0.05)
    hips = [member.joints(times)[:, JOINT_NAMES.index("left_hip"), :2] for member in members]
    if np.linalg.norm(hips[0] - hips[1], axis=1).min() < CLOSEST_PARTNERS_M:
        return _draw_defenders(rng, split, rallies)
    return members


def _draw_person(
    rng: np.random.Generator,
    split: str,
    rally: Rally,
    compose: Callable[[Skeleton, int], Motion],
) -> Person:
    """A random person who moves through a rally as bodies can.

    `compose` makes a motion from a skeleton and 1, or -1 for a left-hander.
    """
    hand = "right" if rng.uniform() < 0.7 else "left"
    skeleton = make_skeleton(make_body(draw_phenotype(rng, split)))
    for _ in range(COMPOSE_TRIES):
        motion = compose(skeleton, 1 if hand == "right" else -1)
        motion = with_legs_that_reach(skeleton, motion)
        if _can_be(skeleton, motion):
            return Person(skeleton, hand, motion, rally)
    return _draw_person(rng, split, rally, compose)


def _can_be(skeleton: Skeleton, motion: Motion) -> bool:
    """Whether the legs reach all along, and the hips don't come too low."""
    joints = motion_joints(skeleton, motion, np.arange(0.0, motion.duration_s, 0.02))

    def length(first: str, second: str) -> FloatArray:
        way = joints[:, JOINT_NAMES.index(first)] - joints[:, JOINT_NAMES.index(second)]
        return np.linalg.norm(way, axis=1)

    for side, (_, shin) in zip(("left", "right"), leg_lengths(skeleton), strict=True):
        if np.abs(length(f"{side}_knee", f"{side}_ankle") - shin).max() > 1e-4:
            return False
    hips = joints[:, JOINT_NAMES.index("left_hip"), 2]
    return bool(hips.min() > LOWEST_HIPS * skeleton.body.phenotype.stature_m)


def _camera_for(
    rng: np.random.Generator,
    split: str,
    view: str,
    people: tuple[Sequence[Person], Person | None],
    size: tuple[int, int] | None,
) -> ViewCamera | None:
    """A camera that shows the defenders throughout, and the attacker where one can be found."""
    defenders, attacker = people
    times = np.arange(0.0, defenders[0].motion.duration_s, 0.15)
    joints = np.concatenate([person.joints(times) for person in defenders])
    points = np.concatenate([joints.reshape(-1, 3), _around_rackets(joints)])
    beyond = None if attacker is None else attacker.joints(times)[:, WRISTS + ANKLES]
    best, most = None, -1.0
    for _ in range(CAMERA_TRIES):
        camera = draw_camera(rng, split, view, points)
        if camera is None or not _fits(camera, size) or not _large_enough(camera, joints):
            continue
        shown = 1.0 if beyond is None else float(in_picture(camera, beyond).mean())
        if shown > most:
            best, most = camera, shown
        if shown > 0.9:
            break
    return best if best is None or size is None else _resized(best, size)


def in_picture(camera: ViewCamera, points: FloatArray) -> BoolArray:
    """Whether points (..., 3) are in the picture, (...)."""
    shown = camera.project(points)
    inside = (shown[..., :2] > 0).all(axis=-1) & (shown[..., :2] < camera.size).all(axis=-1)
    return inside & (shown[..., 2] > 0.3)


def _around_rackets(joints: FloatArray) -> FloatArray:
    """Points (n, 3) about as far from the wrists (frames, 17, 3) as a racket reaches."""
    wrists = joints[:, WRISTS].reshape(-1, 3)
    offsets = np.array([(0.35, 0, 0), (-0.35, 0, 0), (0, 0, 0.4)])
    return (wrists[:, None] + offsets).reshape(-1, 3)


def _fits(camera: ViewCamera, size: tuple[int, int] | None) -> bool:
    """Whether the picture has the proportions of a size."""
    return size is None or abs(camera.size[0] * size[1] / (camera.size[1] * size[0]) - 1) < 0.01


def _large_enough(camera: ViewCamera, joints: FloatArray) -> bool:
    """Whether the player (frames, 17, 3) is as large as phones show them, in most frames."""
    heights = np.ptp(camera.project(joints)[..., 1], axis=1)
    return bool(np.median(heights) > SMALLEST_SHARE * min(camera.size))


def _resized(camera: ViewCamera, size: tuple[int, int]) -> ViewCamera:
    """The same picture with another number of pixels."""
    scale = size[0] / camera.size[0]
    return replace(camera, matrix=np.diag([scale, scale, 1.0]) @ camera.matrix, size=size)
