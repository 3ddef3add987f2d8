"""Whether a screening flags the players whose habit is known, on rendered clips.

`python -m tests.screening_check render FOLDER` renders a clip for each invented player of the test
split, a roster and `habits.json`, which says who has the habit (about 5 minutes a clip on one
core). `python -m tests.screening_check check FOLDER` screens the roster as a user would and prints
each player's flag beside the truth; its exit code is 1 unless every over-side-on player with 12
or more assessed ready positions is flagged and no other is.
"""

import argparse
import json
import multiprocessing
import subprocess
import sys
from pathlib import Path

import numpy as np
from sklearn.metrics import cohen_kappa_score

from tests.rendering.cameras import VIEWS
from tests.rendering.clips import draw_clip, write_clip
from tests.rendering.splits import generator

POSITIONS = 14
# Ready positions over-side-on of a player with the habit, and of one without.
SIDE_ON = {True: 12, False: 1}
LEAST_ASSESSED = 12
HABITS_FILE = "habits.json"
FIRST_SEED = 4000


def drawn_angles(seed: int, habit: bool) -> list[tuple[float, float]]:
    """Lead angle and hip yaw, degrees, of a player's ready positions, in a random order.

    Over-side-on: feet and hips turned by 46 to 68 degrees, in one player by the racket side
    leading, in the next by the other. Otherwise square or slightly racket-leg-back, off limits.
    """
    rng = generator(seed, "test")
    way = 1.0 if seed % 4 == 0 else -1.0
    angles = []
    for number in range(POSITIONS):
        if number < SIDE_ON[habit]:
            lead, hip = way * rng.uniform(46, 68, 2)
        else:
            lead, hip = rng.uniform(-30, 5), rng.uniform(-22, 8)
        angles.append((float(lead), float(hip)))
    return [angles[i] for i in rng.permutation(POSITIONS)]


def render_player(task: tuple[int, bool, Path]) -> None:
    """Render one player's clip."""
    seed, habit, folder = task
    clip = draw_clip(seed, "test", VIEWS[seed % len(VIEWS)],
                     angles_deg=drawn_angles(seed, habit))
    write_clip(clip, folder, f"player_{seed}")


def render(folder: Path, players: int, workers: int) -> None:
    """Render a clip for each player; a third of them have the habit."""
    folder.mkdir(parents=True, exist_ok=True)
    habits = {FIRST_SEED + i: i % 3 == 0 for i in range(players)}
    lines = ["player,clip,court,hand"]
    for seed in habits:
        # `draw_clip` takes the hand from the seed in this way.
        hand = ("right", "left")[seed // len(VIEWS) % 2]
        lines.append(f"P-{seed},player_{seed}.mp4,player_{seed}.court.json,{hand}")
    (folder / "roster.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (folder / HABITS_FILE).write_text(
        json.dumps({f"P-{seed}": habit for seed, habit in habits.items()}, indent=1) + "\n")
    left = [(seed, habit, folder) for seed, habit in habits.items()
            if not (folder / f"player_{seed}.court.json").exists()]
    with multiprocessing.get_context("spawn").Pool(workers) as pool:
        for done, _ in enumerate(pool.imap_unordered(render_player, left), 1):
            print(f"{done} of {len(left)} clips rendered", flush=True)


def check(folder: Path) -> bool:
    """Screen the roster, print flags beside the truth; whether all are as they must be."""
    out = folder / "screening"
    subprocess.run([sys.executable, "-m", "stance", "screen", str(folder / "roster.csv"), "--out",
                    str(out)], check=True)
    habits = json.loads((folder / HABITS_FILE).read_text())
    data = json.loads((out / "screening.json").read_text())
    print(f"\n{'player':>10} {'habit':>6} {'over-side-on':>13} {'interval':>14} {'q':>8}  flag")
    told, wrong = [], []
    for player in data["players"]:
        habit, over = habits[player["player"]], player["over_side_on"]
        low, high = over["interval"]
        q_value = player["q_value"]
        print(f"{player['player']:>10} {'yes' if habit else 'no':>6} "
              f"{over['count']:>5} of {player['assessed']:>4} {low:>6.2f} to {high:.2f} "
              f"{'' if q_value is None else f'{q_value:.4f}':>8}  {player['flag']}")
        if player["assessed"] >= LEAST_ASSESSED:
            told.append((habit, player["flag"] == "habit"))
            if told[-1][0] != told[-1][1]:
                wrong.append(player["player"])
    kappa = cohen_kappa_score(*np.array(told).T)
    print(f"\n{len(told)} of {len(habits)} players with {LEAST_ASSESSED} or more assessed ready "
          f"positions: {len(told) - len(wrong)} flagged rightly, kappa {kappa:.2f}"
          + (f"; wrong: {', '.join(wrong)}" if wrong else ""))
    for failed in data["failed"]:
        print(f"not used: {failed['clip']}: {failed['reason']}")
    return not wrong and not data["failed"]


def main() -> None:
    """Run as a command."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    commands = parser.add_subparsers(dest="command", required=True)
    drawing = commands.add_parser("render", help="render the clips; goes on where it stopped")
    drawing.add_argument("--players", type=int, default=12)
    drawing.add_argument("--workers", type=int, default=2)
    checking = commands.add_parser("check", help="screen them and compare with the truth")
    for command in (drawing, checking):
        command.add_argument("folder", type=Path)
    arguments = parser.parse_args()
    if arguments.command == "render":
        render(arguments.folder, arguments.players, arguments.workers)
    elif not check(arguments.folder):
        raise SystemExit(1)


if __name__ == "__main__":
    main()
