"""What is said of clips in which nobody plays.

`python -m tests.evaluation.no_play FOLDER` renders short scenes into a folder (an empty court, two
people who chat on it, somebody who walks through, spectators on benches, on a floor without lines
and on a court, one player alone who moves and swings as if in a rally), unless they are there,
analyses each without a court file and prints who is followed, the ready positions, those with a
class, whether shares are given, and what the report then says.
"""

import argparse
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy.interpolate import PchipInterpolator

from stance.analysis import analyse
from stance.assessment.options import AnalysisOptions
from stance.errors import InputError
from stance.types import NOT_ASSESSED
from stance.video.writer import VideoWriter
from tests.evaluation.halls import Floor, paint_instead, without_net
from tests.rendering.arrays import FloatArray
from tests.rendering.clips import Bystander, Clip, draw_clip
from tests.rendering.drill import Drill, Step, numbers_of
from tests.rendering.frames import frames
from tests.rendering.play.clip import Options, draw_play
from tests.rendering.play.files import write_play
from tests.rendering.players import Player, draw_player
from tests.rendering.posture import Arm, Foot, Posture
from tests.rendering.raster import Window
from tests.rendering.scene import render_empty
from tests.rendering.stances import bend_knees, draw_stance

SEED, SPLIT, VIEW, RATE, SECONDS = 4100, "test", "behind", 25.0, 6.0
# Of a clip of play in which nobody strikes: docs/accuracy.md, "Strokes faced in play".
SHADOW_SEED = 2006
_WALK_M_PER_S, _STEP_S = 1.2, 0.5
_GESTURE_S = 0.8
SEAT_M, BENCH_M, THIGH_M, SEAT_APART_M, SEAT_ROWS_M = 0.52, 0.42, 0.42, 0.75, 1.1
BROWN = (0.25, 0.16, 0.08)


@dataclass(frozen=True)
class Scene(Clip):
    """A clip of some people who do not play, maybe none."""

    people: tuple[Bystander, ...] = ()

    @property
    def defenders(self) -> tuple[Bystander, ...]:
        return self.people

    @property
    def frame_times(self) -> FloatArray:
        return np.arange(int(SECONDS * RATE)) / RATE


def draw_scene(people: Callable[[np.random.Generator, FloatArray], Sequence[Bystander]]) -> Scene:
    """A scene in a random hall, of people made from random numbers and the place in view."""
    clip = draw_clip(SEED, SPLIT, VIEW, positions=2)
    start = clip.drill.posture(0.0)
    mirror = 1.0 if clip.player.hand == "right" else -1.0
    place = np.array([mirror * start.hip_x, start.hip_y])
    fields = {**vars(clip), "bystanders": (), "frame_rate": RATE}
    return Scene(**fields, people=tuple(people(np.random.default_rng(SEED), place)))


def chat(rng: np.random.Generator, place: FloatArray) -> list[Bystander]:
    """Two people who stand face to face and talk with their hands."""
    pair = []
    for side in (-1.0, 1.0):
        player = draw_player(rng, SPLIT, "right")
        # Seen from above a turn to the left is positive: whoever stands on the right looks left.
        stood = _stand(rng, player, place + [0.55 * side, 0.0], side * np.pi / 2)
        pair.append(_move_hands(rng, player, stood))
    return pair


def walk(rng: np.random.Generator, place: FloatArray) -> list[Bystander]:
    """Somebody who walks across the court."""
    player = draw_player(rng, SPLIT, "right")
    way = np.array([_WALK_M_PER_S * SECONDS, 0.0])
    # The hips are half-way between the feet in the middle of a step.
    behind = np.array([_WALK_M_PER_S * _STEP_S / 2, 0.0])
    stood = bend_knees(
        player.skeleton, _stand(rng, player, place - way / 2, -np.pi / 2), np.radians(20.0)
    )
    stood = replace(stood, hip_x=stood.hip_x - behind[0])
    steps: tuple[list[Step], list[Step]] = ([], [])
    feet = [stood.racket_foot, stood.other_foot]
    for number in range(int(SECONDS / _STEP_S)):
        which, start_s = number % 2, number * _STEP_S
        foot = feet[which]
        # Each foot goes on for two, the first step for one.
        reach = _WALK_M_PER_S * _STEP_S * (2 if number else 1)
        target = replace(foot, x=foot.x + reach)
        steps[which].append(Step(start_s, start_s + _STEP_S, foot, target, 0.06))
        feet[which] = target
    end = replace(stood, hip_x=stood.hip_x + way[0])
    body = PchipInterpolator([0.0, SECONDS], np.array([numbers_of(stood), numbers_of(end)]))
    first = (stood.racket_foot, stood.other_foot)
    moving = Drill(SECONDS, (), body, first, (tuple(steps[0]), tuple(steps[1])), _sway(rng, stood))
    return [Bystander(player, moving)]


def spectators(rng: np.random.Generator, place: FloatArray) -> list[Bystander]:
    """Two rows of four who sit, look at the camera and move their hands."""
    rows = []
    for number in range(8):
        player = draw_player(rng, SPLIT, "right")
        seat = place + [SEAT_APART_M * (number % 4 - 1.5), SEAT_ROWS_M * (number // 4)]
        stood = _stand(rng, player, seat - [0.0, THIGH_M], np.pi)
        sitting = replace(stood, hip_x=seat[0], hip_y=seat[1], hip_height=SEAT_M)
        rows.append(_move_hands(rng, player, sitting))
    return rows


def add_benches(scene: Scene, has_court: bool) -> Scene:
    """The scene with a bench under those who sit, on a court or a floor without lines."""
    hall = scene.scene.hall
    if not has_court:
        hall = paint_instead(hall, Floor(0.0, (), ()), np.zeros(3))
    seats = [member.drill.posture(0.0) for member in scene.people]
    boxes = [
        [*(low - 0.3, row[0].hip_y - 0.2, 0.0), *(high + 0.3, row[0].hip_y + 0.2, BENCH_M), *BROWN]
        for row in (seats[:4], seats[4:])
        for low, high in [(min(s.hip_x for s in row), max(s.hip_x for s in row))]
    ]
    hall = replace(hall, boxes=np.concatenate([hall.boxes, np.array(boxes)]))
    empty = render_empty(hall, scene.camera, Window(0, 0, *scene.camera.size))
    return replace(scene, scene=empty if has_court else without_net(empty))


def _stand(rng: np.random.Generator, player: Player, place: FloatArray, facing: float) -> Posture:
    """Somebody who stands upright, arms down, and looks in a direction."""
    half = 0.1 * np.array([np.cos(facing), np.sin(facing)])
    posture = replace(
        draw_stance(rng, player.skeleton, (0.0, 0.0)),
        racket_foot=Foot(*(place + half), facing),
        other_foot=Foot(*(place - half), facing),
        hip_x=float(place[0]),
        hip_y=float(place[1]),
        **dict.fromkeys(("hip_yaw", "chest_yaw", "head_yaw"), facing),
        **dict.fromkeys(("hip_pitch", "hip_roll", "chest_pitch", "chest_roll", "head_pitch"), 0.0),
        racket_arm=Arm(0.15, 0.1, -0.9, 0.3),
        other_arm=Arm(0.15, 0.1, -0.9, 0.3),
        racket_pitch=-1.0,
    )
    return bend_knees(player.skeleton, posture, np.radians(4.0))


def _move_hands(rng: np.random.Generator, player: Player, posture: Posture) -> Bystander:
    """Somebody who stays in a posture but for the hands."""
    times = np.arange(0.0, SECONDS + 2 * _GESTURE_S, _GESTURE_S)
    hands = [replace(posture, racket_arm=_gesture(rng), other_arm=_gesture(rng)) for _ in times]
    body = PchipInterpolator(times, np.array([numbers_of(moment) for moment in hands]))
    feet = (posture.racket_foot, posture.other_foot)
    return Bystander(player, Drill(SECONDS, (), body, feet, ((), ()), _sway(rng, posture)))


def _gesture(rng: np.random.Generator) -> Arm:
    return Arm(rng.uniform(0.0, 0.3), rng.uniform(0.1, 0.6), rng.uniform(-0.9, -0.3), 0.4)


def _sway(rng: np.random.Generator, posture: Posture) -> FloatArray:
    """Amplitudes, rates and phases of a slight sway, as in a drill."""
    count = len(numbers_of(posture))
    return np.stack(
        [np.full(count, 0.003), rng.uniform(0.3, 0.9, count), rng.uniform(0, 2 * np.pi, count)]
    )


def _write_scene(scene: Scene, path: Path) -> None:
    with VideoWriter(path, scene.camera.size, RATE, crf=scene.finish.crf) as video:
        for image, time_s in zip(frames(scene), scene.frame_times, strict=True):
            video.write(image, float(time_s))


def write_scenes(folder: Path) -> dict[str, Path]:
    """Write the scenes that are not there; their files by what they show."""
    folder.mkdir(parents=True, exist_ok=True)
    scenes: dict[str, Callable[[], Scene]] = {
        "an empty court": lambda: draw_scene(lambda *_: ()),
        "a chat": lambda: draw_scene(chat),
        "a walk": lambda: draw_scene(walk),
        "spectators": lambda: add_benches(draw_scene(spectators), has_court=False),
        "spectators on a court": lambda: add_benches(draw_scene(spectators), has_court=True),
    }
    files = {name: folder / f"{name.replace(' ', '_')}.mp4" for name in scenes}
    for name, draw in scenes.items():
        if not files[name].exists():
            _write_scene(draw(), files[name])
    alone = files["one player alone"] = folder / "one_player_alone.mp4"
    if not alone.exists():
        options = Options(size=(1280, 720))
        write_play(draw_play(SHADOW_SEED, SPLIT, options), folder, alone.stem)
    return files


def main() -> None:
    """Print what is said."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.evaluation.no_play", description=__doc__.splitlines()[0]
    )
    parser.add_argument("folder", type=Path)
    for name, file in write_scenes(parser.parse_args().folder).items():
        try:
            result = analyse(file, options=AnalysisOptions(workers=1)).result
        except InputError as problem:
            print(f"{name}: refused: {problem}")
            continue
        positions = [p for player in result.players for p in player.ready_positions]
        classed = sum(position.stance_class != NOT_ASSESSED for position in positions)
        shares = any(s.share is not None for p in result.players for s in p.shares.values())
        faced = sum(len(player.strokes_faced) for player in result.players)
        print(
            f"{name}: court {result.court.source}, {len(result.players)} followed, {faced} strokes "
            f"faced, {len(positions)} ready positions, {classed} with a class, "
            f"{'shares' if shares else 'no shares'}"
        )
        for notice in result.warnings:
            print(f"  {notice.code}: {notice.text}")


if __name__ == "__main__":
    main()
