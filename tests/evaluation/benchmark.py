"""How fast the tool is, in one run on one machine.

`python -m tests.evaluation.benchmark FOLDER` renders a short drill of one and of two defenders at
1080p60 into the folder (once, some minutes), plays it forwards and backwards until 60 seconds are
full, at a phone's 20 Mbit/s, and a loop of constant play of one and of two defenders, repeated
until 60 seconds are full; and prints: time for the clip against decoding alone (PyAV, all
threads) and against the naive loop (OpenCV read, heavy model in VIDEO mode on every frame); shares
and measures against `--thorough`; peak memory; start-up; the second run; what each trick of
`stance.runtime` gains. Beside wall times stand those of all processors together, which other
programs on the machine disturb less. `--part` runs one part; without it all run, the clip of ten
minutes among them. `--against CHECKOUT` instead compares this checkout with another one of the
project, in pairs of runs.
"""

import argparse
import json
import sys
from functools import partial
from pathlib import Path

from stance.runtime.cores import usable_cores
from stance.video.decoding import decoding_threads
from tests.evaluation.costs import Cost, report_folder, run_analysis, run_timed
from tests.evaluation.films import make_film, make_play_film, repeat_film
from tests.evaluation.pairs import pair_lines, run_pairs, table_head
from tests.evaluation.thorough import print_apart
from tests.evaluation.tricks import print_tricks
from tests.paths import ROOT

# What x264 does unless it is told not to; phones write H.264 without such pictures.
MOST_BETWEEN = 3
SHORT_SECONDS, CLIP_SECONDS, LONG_SECONDS = 10, 60, 600

DECODE = """
import av, sys
with av.open(sys.argv[1]) as container:
    stream = container.streams.video[0]
    stream.thread_type = "AUTO"
    # 0 is the decoder's own choice.
    stream.codec_context.thread_count = int(sys.argv[2])
    for frame in container.decode(stream):
        pass
"""

NAIVE = """
import cv2, sys
from mediapipe import Image, ImageFormat
from mediapipe.tasks.python import BaseOptions, vision
from stance.runtime.model_files import model_bytes
options = vision.PoseLandmarkerOptions(
    base_options=BaseOptions(model_asset_buffer=model_bytes("heavy")),
    running_mode=vision.RunningMode.VIDEO)
capture = cv2.VideoCapture(sys.argv[1])
with vision.PoseLandmarker.create_from_options(options) as landmarker:
    number = 0
    while True:
        read, picture = capture.read()
        if not read:
            break
        rgb = cv2.cvtColor(picture, cv2.COLOR_BGR2RGB)
        landmarker.detect_for_video(Image(ImageFormat.SRGB, rgb), number * 1000 // 60)
        number += 1
"""


def analyse_film(
    film: Path, *options: str, fresh: bool = True, memory: list[float] | None = None
) -> tuple[Cost, dict]:
    """Run `stance analyse` without overlay; returns what it took and the result."""
    out = report_folder(film, *options)
    cost = run_analysis(film, out, *options, fresh=fresh, memory=memory)
    return cost, json.loads((out / "result.json").read_text())


def print_start(folder: Path) -> None:
    """Print how long `stance --help` takes."""
    del folder
    print(
        f"stance --help: {min(run_timed('-m', 'stance', '--help').wall_s for _ in range(5)):.2f} s"
    )


def print_speed(folder: Path, defenders: int, between: int = 0) -> None:
    """Print the time for a drill against decoding alone, and the second run."""
    film = make_film(folder, defenders, CLIP_SECONDS, between)
    print(f"{defenders} defender(s), at most {between} pictures between two others")
    _print_against_decoding(film)


def print_play_speed(folder: Path, defenders: int) -> None:
    """Print the same for constant play."""
    film = make_play_film(folder, defenders, CLIP_SECONDS)
    print(f"{defenders} defender(s) in constant play")
    _print_against_decoding(film)


def _print_against_decoding(film: Path) -> None:
    threads = decoding_threads(usable_cores())
    # Once before and once after, so that a machine that gets slower does not flatter.
    before = [run_timed("-c", DECODE, film, number) for number in ("0", str(threads))]
    whole, result = analyse_film(film)
    again, _ = analyse_film(film, fresh=False)
    after = [run_timed("-c", DECODE, film, number) for number in ("0", str(threads))]
    decode, ours = (
        min(pair, key=lambda cost: cost.wall_s) for pair in zip(before, after, strict=True)
    )
    positions, strokes = (
        sum(len(player[name]) for player in result["players"])
        for name in ("ready_positions", "strokes_faced")
    )
    print(
        f"  {CLIP_SECONDS} s of 1080p60, {strokes} strokes faced, {positions} ready positions\n"
        f"  decoding alone {decode.wall_s:.1f} s (processors {decode.cpu_s:.1f} s); with the "
        f"tool's {threads} threads {ours.wall_s:.1f} s\n"
        f"  stance {whole.wall_s:.1f} s (processors {whole.cpu_s:.1f} s): "
        f"{whole.wall_s / decode.wall_s:.2f} times (processors "
        f"{whole.cpu_s / decode.cpu_s:.2f} times)\n"
        f"  peak {whole.peak_mb:.0f} MB; second run {again.wall_s:.2f} s"
    )


def print_naive(folder: Path, between: int = 0) -> None:
    """Print the time for a clip against the naive loop, which is timed on the short clip only."""
    film = make_film(folder, 1, CLIP_SECONDS, between)
    naive = run_timed("-c", NAIVE, make_film(folder, 1, SHORT_SECONDS, between))
    whole, _ = analyse_film(film)
    times = CLIP_SECONDS / SHORT_SECONDS
    print(
        f"at most {between} pictures between two others, naive loop "
        f"{naive.wall_s * times:.0f} s (processors {naive.cpu_s * times:.0f} s; "
        f"{times:.0f} times that of {SHORT_SECONDS} s): stance, {whole.wall_s:.1f} s, is "
        f"{naive.wall_s * times / whole.wall_s:.1f} times as fast (processors "
        f"{naive.cpu_s * times / whole.cpu_s:.1f} times)"
    )


def print_memory(folder: Path, seconds: int) -> None:
    """Print the peak memory for a clip, or for the clip of a minute over and over."""
    film = make_film(folder, 1, min(seconds, CLIP_SECONDS))
    film = repeat_film(film, seconds // CLIP_SECONDS) if seconds > CLIP_SECONDS else film
    memory: list[float] = []
    cost, _ = analyse_film(film, memory=memory)
    print(f"{seconds} s: peak {cost.peak_mb:.0f} MB ({cost.wall_s:.0f} s)")
    if seconds > CLIP_SECONDS:
        shares = [memory[int(share * len(memory))] for share in (0.1, 0.3, 0.6, 0.95)]
        kept_mb = (report_folder(film) / "poses.npz").stat().st_size / 2**20
        print(
            f"  after a tenth, three, six and nine and a half tenths of the time "
            f"{', '.join(f'{mb:.0f}' for mb in shares)} MB; what is kept in the end is "
            f"{kept_mb:.0f} MB"
        )


def print_thorough(folder: Path, defenders: int) -> None:
    """Print how far shares and measures of the short clip are from a thorough run's."""
    film = make_film(folder, defenders, SHORT_SECONDS)
    _, quick = analyse_film(film)
    _, thorough = analyse_film(film, "--thorough")
    print(f"{defenders} defender(s), {SHORT_SECONDS} s, against --thorough")
    for pair in zip(quick["players"], thorough["players"], strict=True):
        print_apart([pair])


def print_against(folder: Path, other: Path) -> None:
    """Print what this checkout costs against another one, in pairs of runs.

    Of the first analysis of a film with one and with two defenders, of the second run with kept
    poses, and of `--help`.
    """
    checkouts = (other, ROOT)
    for checkout in checkouts:
        # So that no first run compiles modules.
        run_timed("-m", "compileall", "-q", "stance", checkout=checkout)
    print(table_head("other", "this"))
    runs = [partial(run_timed, "-m", "stance", "--help", checkout=each) for each in checkouts]
    print(pair_lines("--help", run_pairs(*runs)))
    for defenders in (1, 2):
        film = make_film(folder, defenders, CLIP_SECONDS)
        for name, fresh in (("analysis", True), ("second run", False)):
            runs = [
                partial(
                    run_analysis, film, report_folder(film, mark), fresh=fresh, checkout=checkout
                )
                for checkout, mark in zip(checkouts, ("_other", "_this"), strict=True)
            ]
            print(pair_lines(f"{defenders} defender(s), {name}", run_pairs(*runs)), flush=True)


PARTS = {
    "start": print_start,
    "speed-1": partial(print_speed, defenders=1),
    "speed-2": partial(print_speed, defenders=2),
    "play-1": partial(print_play_speed, defenders=1),
    "play-2": partial(print_play_speed, defenders=2),
    "speed-1-between": partial(print_speed, defenders=1, between=MOST_BETWEEN),
    "speed-2-between": partial(print_speed, defenders=2, between=MOST_BETWEEN),
    "naive": print_naive,
    "naive-between": partial(print_naive, between=MOST_BETWEEN),
    "thorough-1": partial(print_thorough, defenders=1),
    "thorough-2": partial(print_thorough, defenders=2),
    "memory-short": partial(print_memory, seconds=SHORT_SECONDS),
    "memory-long": partial(print_memory, seconds=LONG_SECONDS),
    "tricks": print_tricks,
}


def main() -> None:
    """Run as a command."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("folder", type=Path)
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--part", action="append", choices=PARTS, help="this part only; repeat")
    what.add_argument("--against", type=Path, metavar="CHECKOUT", help="compare with it")
    arguments = parser.parse_args()
    arguments.folder.mkdir(parents=True, exist_ok=True)
    folder = arguments.folder.resolve()
    if arguments.against is not None:
        print_against(folder, arguments.against.resolve())
        return
    for name in arguments.part or PARTS:
        PARTS[name](folder)
        sys.stdout.flush()


if __name__ == "__main__":
    main()
