"""Write the sample clip, random clips and random stills: `python -m tests.rendering --help`."""

import argparse
import json
from dataclasses import asdict
from pathlib import Path

from PIL import Image

from tests.paths import SAMPLE_CLIPS
from tests.rendering.cameras import VIEWS
from tests.rendering.clip_files import write_clip
from tests.rendering.clips import draw_clip
from tests.rendering.pairs import draw_pair_clip
from tests.rendering.play.clip import Options, draw_play
from tests.rendering.play.files import write_motion, write_play
from tests.rendering.sample import write_sample
from tests.rendering.skeleton import JOINT_NAMES
from tests.rendering.splits import SPLITS
from tests.rendering.stills import Still, render_still


def main() -> None:
    """Run one of the commands sample, clip, pair, play and stills."""
    arguments = _parser().parse_args()
    if arguments.command == "sample":
        write_sample(SAMPLE_CLIPS)
    elif arguments.command == "clip":
        clip = draw_clip(arguments.seed, arguments.split, arguments.view)
        name = f"{arguments.split}_{clip.view}_{arguments.seed:05d}"
        write_clip(clip, arguments.out_folder, name)
    elif arguments.command == "pair":
        size = arguments.size and tuple(map(int, arguments.size.split("x")))
        clip = draw_pair_clip(
            arguments.seed,
            arguments.split,
            arguments.view,
            arguments.positions,
            size,
            arguments.rate,
        )
        name = f"pair_{arguments.split}_{clip.view}_{arguments.seed:05d}"
        write_clip(clip, arguments.out_folder, name)
    elif arguments.command == "play":
        _write_plays(arguments)
    else:
        for seed in range(arguments.first, arguments.first + arguments.count):
            name = f"{arguments.split}_{seed:06d}"
            _write_still(render_still(seed, arguments.split), arguments.out_folder, name)


def _parser() -> argparse.ArgumentParser:
    """The commands and their options."""
    parser = argparse.ArgumentParser(prog="python -m tests.rendering", description=__doc__)
    commands = parser.add_subparsers(dest="command", required=True)
    commands.add_parser("sample", help="write the sample clip, its court file and its truth")
    for command, content in (("clip", "one defender"), ("pair", "two defenders")):
        clip = commands.add_parser(
            command, help=f"write a random drill clip of {content} with truth and court file"
        )
        clip.add_argument("--seed", type=int, required=True)
        clip.add_argument("--split", choices=SPLITS, default="test")
        clip.add_argument("--view", choices=VIEWS, help="by default the seed decides")
        clip.add_argument("out_folder", type=Path)
    clip.add_argument("--positions", type=int, default=6, help="of each defender")
    clip.add_argument("--size", help="WIDTHxHEIGHT; by default the seed decides")
    clip.add_argument("--rate", type=float, help="frames a second; by default the seed decides")
    _add_play(commands)
    stills = commands.add_parser("stills", help="write random stills, for looking at")
    stills.add_argument("--split", choices=SPLITS, default="train")
    stills.add_argument("--first", type=int, default=0, help="first seed")
    stills.add_argument("--count", type=int, required=True)
    stills.add_argument("out_folder", type=Path)
    return parser


def _add_play(commands: argparse._SubParsersAction) -> None:
    """The command play and its options."""
    play = commands.add_parser(
        "play",
        help="write random clips of play (steps, split hop, landing, strokes of both sides, sound) "
        "with truth, court file and joints of every frame",
    )
    play.add_argument("--seed", type=int, required=True)
    play.add_argument("--count", type=int, default=1, help="this many seeds from --seed on")
    play.add_argument("--split", choices=SPLITS, default="test")
    play.add_argument("--view", choices=VIEWS, help="by default the seed decides")
    play.add_argument("--size", help="WIDTHxHEIGHT (16:9 or 9:16); by default the seed decides")
    play.add_argument("--rate", type=float, help="frames a second; by default the seed decides")
    play.add_argument("--strokes", type=int, default=6, help="strokes faced in each clip")
    play.add_argument(
        "--motion-only", action="store_true", help="truth and joints alone, without pictures: fast"
    )
    play.add_argument("--pair", action="store_true", help="two defenders, who share the returns")
    play.add_argument("out_folder", type=Path)


def _write_plays(arguments: argparse.Namespace) -> None:
    """Write the clips of play that were asked for."""
    size = arguments.size and tuple(map(int, arguments.size.split("x")))
    options = Options(arguments.view, size, arguments.rate, arguments.strokes, arguments.pair)
    write = write_motion if arguments.motion_only else write_play
    for seed in range(arguments.seed, arguments.seed + arguments.count):
        play = draw_play(seed, arguments.split, options)
        kind = "playpair" if arguments.pair else "play"
        name = f"{kind}_{arguments.split}_{play.view}_{seed:05d}"
        write(play, arguments.out_folder, name)


def _write_still(still: Still, folder: Path, name: str) -> None:
    """Write NAME.png and NAME.json into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    Image.fromarray(still.image).save(folder / f"{name}.png")
    camera = still.camera
    content = {
        "offset": still.offset,
        "image_size": camera.size,
        "camera": {
            "K": camera.matrix.tolist(),
            "R": camera.rotation.tolist(),
            "t": camera.translation.tolist(),
        },
        "view": still.view,
        "player": {"hand": still.hand, "height_m": round(still.stature_m, 3)},
        "joint_names": JOINT_NAMES,
        "joints": still.joints.round(4).tolist(),
        "class": still.measures.stance_class,
        **asdict(still.measures),
    }
    path = folder / f"{name}.json"
    path.write_text(json.dumps(content, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
