"""Whether a screening flags the players whose habit is known, on rendered clips.

`python -m tests.evaluation.screening_check render FOLDER` renders a clip for each invented player
of the test split, a roster and `habits.json`, which says who has the habit. A clip of some 1,000
frames takes about 4 minutes of one core; the frames of a clip are spread over `--workers`
processes, and a run that was stopped goes on with the clip it was at.

`python -m tests.evaluation.screening_check check FOLDER` screens the roster as a user would and
prints each player's flag beside the truth; its exit code is 1 unless every over-side-on player
with 12 or more assessed ready positions is flagged and no other is.

`python -m tests.evaluation.screening_check invent` does the same with many invented results that
carry the measured errors, with one to three clips each.
"""

import argparse
import functools
import json
import multiprocessing
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
from sklearn.metrics import cohen_kappa_score

from stance.types import FLAGS
from stance.video.writer import VideoWriter
from tests.rendering.arrays import Picture
from tests.rendering.cameras import VIEWS
from tests.rendering.clip_files import write_truth
from tests.rendering.clips import Clip, draw_clip
from tests.rendering.frames import frames
from tests.rendering.splits import generator
from tests.unit.academy.invented_academy import screen_invented

POSITIONS = 14
LEAST_ASSESSED = 12
HABITS_FILE = "habits.json"
FIRST_SEED = 4000

# Habits in turn: side-on with feet and hips, with the hips alone over feet that are hardly
# staggered, or none; and how many of the positions are over-side-on then.
HABITS = ("feet and hips", "hips alone", "none", "feet and hips", "none", "none")
SIDE_ON = {"feet and hips": 12, "hips alone": 12, "none": 1}

# Clips travel from the machine that renders them, so they are filmed at the rate most phones
# start with and coded as tightly as the tightest of the other clips.
FRAME_RATE = 30.0
CRF = 27.0
FRAMES_A_TASK = 16


def habit_of(seed: int) -> str:
    """The habit of the player with this seed."""
    return HABITS[(seed - FIRST_SEED) % len(HABITS)]


def drawn_angles(seed: int) -> list[tuple[float, float]]:
    """Lead angle and hip yaw, degrees, of a player's ready positions, in a random order.

    Over-side-on: feet and hips, or the hips alone, turned by 46 to 68 degrees; in every fourth
    player the racket side leads, in the others it is back. Otherwise square or slightly
    racket-leg-back, off the limits.
    """
    rng, habit = generator(seed, "test"), habit_of(seed)
    way = 1.0 if seed % 4 == 0 else -1.0
    angles = []
    for number in range(POSITIONS):
        lead, hip = rng.uniform(-30, 5), rng.uniform(-22, 8)
        if number < SIDE_ON[habit]:
            turned = way * rng.uniform(46, 68, 2)
            lead, hip = (lead if habit == "hips alone" else turned[0]), turned[1]
        angles.append((float(lead), float(hip)))
    return [angles[i] for i in rng.permutation(POSITIONS)]


@functools.lru_cache(maxsize=1)
def player_clip(seed: int) -> Clip:
    """The clip of a player."""
    clip = draw_clip(seed, "test", VIEWS[seed % len(VIEWS)], angles_deg=drawn_angles(seed))
    return replace(
        clip, frame_rate=FRAME_RATE, finish=replace(clip.finish, crf=max(clip.finish.crf, CRF))
    )


def rendered(task: tuple[int, range]) -> list[Picture]:
    """Some frames of a player's clip."""
    seed, numbers = task
    return list(frames(player_clip(seed), numbers))


def write_player_truth(seed: int, folder: Path) -> None:
    """Write what is true of a player's clip, and its court file."""
    write_truth(player_clip(seed), folder, f"player_{seed}")


def render(folder: Path, players: int, workers: int) -> None:
    """Render a clip for each player."""
    folder.mkdir(parents=True, exist_ok=True)
    seeds = range(FIRST_SEED, FIRST_SEED + players)
    lines = ["player,clip,court,hand"]
    for seed in seeds:
        # `draw_clip` takes the hand from the seed in this way.
        hand = ("right", "left")[seed // len(VIEWS) % 2]
        lines.append(f"P-{seed},player_{seed}.mp4,player_{seed}.court.json,{hand}")
    (folder / "roster.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (folder / HABITS_FILE).write_text(
        json.dumps({f"P-{seed}": habit_of(seed) for seed in seeds}, indent=1) + "\n"
    )
    left = [
        seed
        for seed in seeds
        if not (
            (folder / f"player_{seed}.mp4").exists()
            and (folder / f"player_{seed}.court.json").exists()
        )
    ]
    with multiprocessing.get_context("spawn").Pool(workers) as pool:
        for done, seed in enumerate(left, 1):
            clip = player_clip(seed)
            truth = pool.apply_async(write_player_truth, (seed, folder))
            count = len(clip.frame_times)
            parts = [
                (seed, range(first, min(first + FRAMES_A_TASK, count)))
                for first in range(0, count, FRAMES_A_TASK)
            ]
            with VideoWriter(
                folder / f"player_{seed}.mp4",
                clip.camera.size,
                clip.frame_rate,
                crf=clip.finish.crf,
            ) as video:
                times = iter(clip.frame_times)
                for pictures in pool.imap(rendered, parts):
                    for picture in pictures:
                        video.write(picture, float(next(times)))
            truth.get()
            print(f"{done} of {len(left)} clips rendered", flush=True)


def check(folder: Path) -> bool:
    """Screen the roster, print flags beside the truth; whether all are as they must be."""
    out = folder / "screening"
    subprocess.run(
        [sys.executable, "-m", "stance", "screen", str(folder / "roster.csv"), "--out", str(out)],
        check=True,
    )
    habits = json.loads((folder / HABITS_FILE).read_text())
    data = json.loads((out / "screening.json").read_text())
    print(f"\n{'player':>10} {'habit':>13} {'over-side-on':>13} {'interval':>14} {'q':>8}  flag")
    compared, wrong = [], []
    for player in data["players"]:
        habit, over = habits[player["player"]], player["over_side_on"]
        low, high = over["interval"]
        q_value = player["q_value"]
        print(
            f"{player['player']:>10} {habit:>13} "
            f"{over['count']:>5} of {player['assessed']:>4} {low:>6.2f} to {high:.2f} "
            f"{'' if q_value is None else f'{q_value:.4f}':>8}  {player['flag']}"
        )
        if player["assessed"] >= LEAST_ASSESSED:
            compared.append((habit != "none", player["flag"] == "habit"))
            if compared[-1][0] != compared[-1][1]:
                wrong.append(player["player"])
    kappa = cohen_kappa_score(*np.array(compared).T) if len(set(sum(compared, ()))) > 1 else 1.0
    print(
        f"\n{len(compared)} of {len(habits)} players with {LEAST_ASSESSED} or more assessed ready "
        f"positions: {len(compared) - len(wrong)} flagged rightly, kappa {kappa:.2f}"
        + (f"; wrong: {', '.join(wrong)}" if wrong else "")
    )
    for failed in data["failed"]:
        print(f"not used: {failed['clip']}: {failed['reason']}")
    return not wrong and not data["failed"]


def invent(academies: int) -> None:
    """Print how often invented players get each flag, by habit and number of clips."""
    print(f"{'habit':>13} {'clips':>5}  " + "  ".join(FLAGS))
    for clips in (1, 2, 3):
        counts: dict[str, Counter[str]] = {habit: Counter() for habit in SIDE_ON}
        for seed in range(academies):
            # With feet and hips, then with the hips alone; four of twelve players each time.
            for habit in ("feet and hips", "hips alone"):
                players = {f"S-{i}": [(SIDE_ON[habit], POSITIONS, "")] * clips for i in range(4)}
                players |= {f"N-{i}": [(i % 2, POSITIONS, "")] * clips for i in range(8)}
                for player in screen_invented(
                    players, seed, feet_too=habit != "hips alone"
                ).players:
                    has = player.player.startswith("S")
                    counts[habit if has else "none"][player.flag] += 1
        for habit, flags in counts.items():
            print(
                f"{habit:>13} {clips:>5}  "
                + "  ".join(f"{flags[flag]:>{len(flag)}}" for flag in FLAGS),
                flush=True,
            )


def main() -> None:
    """Run as a command."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.evaluation.screening_check", description=__doc__.split("\n\n")[0]
    )
    commands = parser.add_subparsers(dest="command", required=True)
    drawing = commands.add_parser("render", help="render the clips; goes on with the next")
    drawing.add_argument("--players", type=int, default=12)
    drawing.add_argument("--workers", type=int, default=2)
    checking = commands.add_parser("check", help="screen them and compare with the truth")
    inventing = commands.add_parser("invent", help="the same with invented results")
    inventing.add_argument("--academies", type=int, default=12)
    for command in (drawing, checking):
        command.add_argument("folder", type=Path)
    arguments = parser.parse_args()
    if arguments.command == "render":
        render(arguments.folder, arguments.players, arguments.workers)
    elif arguments.command == "invent":
        invent(arguments.academies)
    elif not check(arguments.folder):
        raise SystemExit(1)


if __name__ == "__main__":
    main()
