"""How fast the tool is, in one run on one machine.

`python -m tests.evaluation.benchmark FOLDER` renders a short drill of one and of two defenders at 1080p60 into
the folder (once, some minutes), plays it forwards and backwards until 60 seconds are full, at a
phone's 20 Mbit/s, and prints: time for the clip against decoding alone (PyAV, all threads)
and against the naive loop (OpenCV read, heavy model in VIDEO mode on every frame); shares and
measures against `--thorough`; peak memory; start-up; the second run. Beside wall times stand those
of all cores together, which other programs on the machine disturb less. `--part` runs one part;
without it all run, the clip of ten minutes among them.
"""

import argparse
import json
import os
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial
from multiprocessing import get_context
from pathlib import Path

import av
import numpy as np

from stance.runtime.cores import usable_cores
from stance.video.decoding import decoding_threads
from stance.video.reader import read_frames
from tests.evaluation.thorough import print_apart
from tests.paths import ROOT

SEED, SPLIT, VIEW, SIZE, RATE = 2, "tune", "behind", (1920, 1080), 60
DRILL_POSITIONS = 4
BIT_RATE = 20_000_000
# What x264 does unless it is told not to; phones write H.264 without such pictures.
MOST_BETWEEN = 3
SHORT_SECONDS, CLIP_SECONDS, LONG_SECONDS = 10, 60, 600
# What is asked for against the naive loop.
TIMES_FASTER = 12

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


def make_drill(folder: Path, defenders: int) -> Path:
    """Render the short drill unless it is there; returns its path."""
    from tests.rendering.clips import write_clip
    from tests.rendering.pairs import draw_pair_clip

    path = folder / f"drill_{defenders}.mp4"
    if not path.exists():
        clip = draw_pair_clip(SEED, SPLIT, VIEW, DRILL_POSITIONS, SIZE, RATE)
        write_clip(clip if defenders == 2 else replace(clip, partner=None), folder, path.stem)
    return path


def to_and_fro(drill: Path, count: int) -> Iterator[np.ndarray]:
    """Frames of a drill forwards, backwards, forwards and so on."""
    frames = [frame.image for frame in read_frames(drill)]
    order = [*range(len(frames)), *range(len(frames) - 2, 0, -1)]
    for number in range(count):
        yield frames[order[number % len(order)]]


def make_clip(drill: Path, seconds: int, between: int = 0) -> Path:
    """Repeat a drill to a clip of some seconds with a phone's bit rate and light noise.

    At most `between` pictures in a row are predicted from those before and after them.
    """
    path = drill.with_name(f"{drill.stem}_{seconds}s{f'_{between}_between' * bool(between)}.mp4")
    if path.exists():
        return path
    rng = np.random.default_rng(1)
    noise = rng.integers(-4, 5, (8, SIZE[1], SIZE[0], 1), dtype=np.int16)
    part = path.with_name(f".{path.name}")
    with av.open(str(part), "w", format="mp4") as container:
        rate = {"b": str(BIT_RATE), "maxrate": str(BIT_RATE), "bufsize": str(BIT_RATE)}
        stream = container.add_stream(
            "libx264",
            rate=RATE,
            options={**rate, "preset": "veryfast", "bf": str(between), "g": str(RATE)},
        )
        stream.width, stream.height, stream.pix_fmt = *SIZE, "yuv420p"
        for number, image in enumerate(to_and_fro(drill, seconds * RATE)):
            noisy = np.clip(image + noise[number % 8], 0, 255).astype(np.uint8)
            picture = av.VideoFrame.from_ndarray(noisy, format="rgb24")
            picture.pts, picture.time_base = number, Fraction(1, RATE)
            container.mux(stream.encode(picture))
        container.mux(stream.encode(None))
    part.replace(path)
    path.with_suffix(".court.json").write_bytes(drill.with_suffix(".court.json").read_bytes())
    return path


def clip_of(folder: Path, defenders: int, seconds: int, between: int = 0) -> Path:
    """Make a clip unless it is there, in a process of its own; returns its path.

    Whatever a process starts has at least the peak memory that this process had till then.
    """
    with ProcessPoolExecutor(1, get_context("spawn")) as apart:
        drill = apart.submit(make_drill, folder, defenders).result()
        return apart.submit(make_clip, drill, seconds, between).result()


def repeated(clip: Path, times: int) -> Path:
    """Put a clip behind itself some times, without coding it anew."""
    path = clip.with_name(f"{clip.stem}_{times}_times.mp4")
    if not path.exists():
        part = path.with_name(f".{path.name}")
        with av.open(str(part), "w", format="mp4") as container:
            stream, shift = None, 0
            for _ in range(times):
                with av.open(str(clip)) as source:
                    given = source.streams.video[0]
                    stream = stream or container.add_stream_from_template(given)
                    for packet in source.demux(given):
                        if packet.dts is not None:
                            packet.pts, packet.dts = packet.pts + shift, packet.dts + shift
                            packet.stream = stream
                            container.mux(packet)
                    shift += given.duration
        part.replace(path)
        path.with_suffix(".court.json").write_bytes(clip.with_suffix(".court.json").read_bytes())
    return path


@dataclass(frozen=True)
class Cost:
    """What a command took: wall time, time of all cores, peak memory."""

    wall_s: float
    cores_s: float
    peak_mb: float


def timed(*command: str | Path, memory: list[float] | None = None) -> Cost:
    """Run a Python command; what it has in memory every second, MB, is added to a list (Linux)."""
    # Python keeps compiled modules, as it does unless told not to.
    environment = os.environ | {"PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": ""}
    start = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, *map(str, command)],
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env=environment,
    )
    if memory is not None:
        threading.Thread(target=note_memory, args=(process.pid, memory)).start()
    _, status, usage = os.wait4(process.pid, 0)
    wall_s = time.perf_counter() - start
    if os.waitstatus_to_exitcode(status):
        raise RuntimeError(f"failed: {' '.join(map(str, command))[:200]}")
    return Cost(wall_s, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024)


def note_memory(process: int, memory: list[float]) -> None:
    """Add what a process has in memory every second, MB, until it ends."""
    with suppress(OSError, ValueError):
        while True:
            pages = int(Path(f"/proc/{process}/statm").read_text().split()[1])
            if pages:
                memory.append(pages * os.sysconf("SC_PAGE_SIZE") / 2**20)
            time.sleep(1.0)


def report_of(clip: Path, *options: str) -> Path:
    """Folder of a clip's report."""
    return clip.with_name(clip.stem + "_report" + "".join(options))


def analysed(
    clip: Path, *options: str, fresh: bool = True, memory: list[float] | None = None
) -> tuple[Cost, dict]:
    """Run `stance analyse` without overlay; returns what it took and the result."""
    out = report_of(clip, *options)
    if fresh:
        (out / "poses.npz").unlink(missing_ok=True)
    cost = timed(
        "-m",
        "stance",
        "analyse",
        clip,
        "--court",
        clip.with_suffix(".court.json"),
        "--no-overlay",
        "--out",
        out,
        *options,
        memory=memory,
    )
    return cost, json.loads((out / "result.json").read_text())


def print_start(folder: Path) -> None:
    """Print how long `stance --help` takes."""
    del folder
    print(f"stance --help: {min(timed('-m', 'stance', '--help').wall_s for _ in range(5)):.2f} s")


def print_speed(folder: Path, defenders: int, between: int = 0) -> None:
    """Print the time for a clip against decoding alone, and the second run."""
    clip = clip_of(folder, defenders, CLIP_SECONDS, between)
    threads = decoding_threads(usable_cores())
    # Once before and once after, so that a machine that gets slower does not flatter.
    before = [timed("-c", DECODE, clip, number) for number in ("0", str(threads))]
    whole, result = analysed(clip)
    again, _ = analysed(clip, fresh=False)
    after = [timed("-c", DECODE, clip, number) for number in ("0", str(threads))]
    decode, ours = (
        min(pair, key=lambda cost: cost.wall_s) for pair in zip(before, after, strict=True)
    )
    found = sum(len(player["ready_positions"]) for player in result["players"])
    print(
        f"{defenders} defender(s), {CLIP_SECONDS} s of 1080p60, at most {between} pictures "
        f"between two others, {found} ready positions\n"
        f"  decoding alone {decode.wall_s:.1f} s (all cores {decode.cores_s:.1f} s); with the "
        f"tool's {threads} threads {ours.wall_s:.1f} s\n"
        f"  stance {whole.wall_s:.1f} s (all cores {whole.cores_s:.1f} s): "
        f"{whole.wall_s / decode.wall_s:.2f} times (all cores "
        f"{whole.cores_s / decode.cores_s:.2f} times)\n"
        f"  peak {whole.peak_mb:.0f} MB; second run {again.wall_s:.2f} s"
    )


@dataclass(frozen=True)
class Least:
    """What an analysis can't do without: decoding and looks, with their seconds of the cores."""

    decode_s: float
    looks: int
    close_looks: int
    looks_s: float


def least_of(clip: Path) -> Least:
    """Decode a clip as the tool does, and look as often as in its kept analysis, at one frame.

    As many looks of the pose model as there are different poses. Loading is not counted.
    """
    import cv2
    from threadpoolctl import threadpool_limits

    from stance.analysis import analyse
    from stance.measures.orientation import OrientationNetwork, observe
    from stance.people.landmarker import Landmarker
    from stance.people.landmarks import Pose
    from stance.video.reader import read_frames_at
    from stance.watching.effort import QUICK

    analysis = analyse(clip, clip.with_suffix(".court.json"), cache_folder=report_of(clip))
    start = time.process_time()
    for _ in read_frames(clip, None, QUICK.dense_rate):
        pass
    decode_s = time.process_time() - start
    player = analysis.watched_clip.players[0]
    track, camera = player.track, analysis.cameras["A"]
    looks = len(np.unique(track.pixels[track.seen], axis=0))
    first = int(np.flatnonzero(track.seen)[0])
    pose = Pose(track.pixels[first], track.visibility[first], track.world[first])
    image = next(read_frames_at(clip, [int(track.frames[first])])).image
    reader = OrientationNetwork()
    # As many threads as the tool gives a look.
    cv2.setNumThreads(1)
    with threadpool_limits(1, "blas"), Landmarker(QUICK.model, steady=True) as landmarker:
        landmarker.detect(image, pose.box)
        observe(reader, image, pose, camera)
        start = time.process_time()
        for _ in range(looks):
            landmarker.detect(image, pose.box)
        for _ in player.observations:
            observe(reader, image, pose, camera)
        return Least(decode_s, looks, len(player.observations), time.process_time() - start)


def print_naive(folder: Path, between: int = 0) -> None:
    """Print the time for a clip against the naive loop, which is timed on the short clip only.

    And what of it is the least: decoding as the tool does, and its looks, on all cores.
    """
    clip = clip_of(folder, 1, CLIP_SECONDS, between)
    naive = timed("-c", NAIVE, clip_of(folder, 1, SHORT_SECONDS, between))
    whole, _ = analysed(clip)
    with ProcessPoolExecutor(1, get_context("spawn")) as apart:
        least = apart.submit(least_of, clip).result()
    times, cores = CLIP_SECONDS / SHORT_SECONDS, os.cpu_count() or 1
    wanted_s, least_s = (
        naive.wall_s * times / TIMES_FASTER * cores,
        least.decode_s + least.looks_s,
    )
    print(
        f"at most {between} pictures between two others, naive loop "
        f"{naive.wall_s * times:.0f} s (all cores {naive.cores_s * times:.0f} s; "
        f"{times:.0f} times that of {SHORT_SECONDS} s): stance, {whole.wall_s:.1f} s, is "
        f"{naive.wall_s * times / whole.wall_s:.1f} times as fast (all cores "
        f"{naive.cores_s * times / whole.cores_s:.1f} times)\n"
        f"  {TIMES_FASTER} times as fast: {wanted_s:.1f} s of {cores} cores; decoding as the "
        f"tool does takes {least.decode_s:.1f} of them, {least.looks} looks and "
        f"{least.close_looks} close ones {least.looks_s:.1f}, which leaves "
        f"{wanted_s - least_s:.1f} for all else; the tool takes "
        f"{whole.cores_s - least_s:.1f} for it"
    )


def print_memory(folder: Path, seconds: int) -> None:
    """Print the peak memory for a clip, or for the clip of a minute over and over."""
    clip = clip_of(folder, 1, min(seconds, CLIP_SECONDS))
    clip = repeated(clip, seconds // CLIP_SECONDS) if seconds > CLIP_SECONDS else clip
    memory: list[float] = []
    cost, _ = analysed(clip, memory=memory)
    print(f"{seconds} s: peak {cost.peak_mb:.0f} MB ({cost.wall_s:.0f} s)")
    if seconds > CLIP_SECONDS:
        shares = [memory[int(share * len(memory))] for share in (0.1, 0.3, 0.6, 0.95)]
        kept_mb = (report_of(clip) / "poses.npz").stat().st_size / 2**20
        print(
            f"  after a tenth, three, six and nine and a half tenths of the time "
            f"{', '.join(f'{mb:.0f}' for mb in shares)} MB; what is kept in the end is "
            f"{kept_mb:.0f} MB"
        )


def print_thorough(folder: Path, defenders: int) -> None:
    """Print how far shares and measures of the short clip are from a thorough run's."""
    clip = clip_of(folder, defenders, SHORT_SECONDS)
    _, quick = analysed(clip)
    _, thorough = analysed(clip, "--thorough")
    print(f"{defenders} defender(s), {SHORT_SECONDS} s, against --thorough")
    for pair in zip(quick["players"], thorough["players"], strict=True):
        print_apart([pair])


PARTS = {
    "start": print_start,
    "speed-1": partial(print_speed, defenders=1),
    "speed-2": partial(print_speed, defenders=2),
    "speed-1-between": partial(print_speed, defenders=1, between=MOST_BETWEEN),
    "speed-2-between": partial(print_speed, defenders=2, between=MOST_BETWEEN),
    "naive": print_naive,
    "naive-between": partial(print_naive, between=MOST_BETWEEN),
    "thorough-1": partial(print_thorough, defenders=1),
    "thorough-2": partial(print_thorough, defenders=2),
    "memory-short": partial(print_memory, seconds=SHORT_SECONDS),
    "memory-long": partial(print_memory, seconds=LONG_SECONDS),
}


def main() -> None:
    """Run as a command."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--part", action="append", choices=PARTS, help="this part only; repeat")
    arguments = parser.parse_args()
    arguments.folder.mkdir(parents=True, exist_ok=True)
    for name in arguments.part or PARTS:
        PARTS[name](arguments.folder.resolve())
        sys.stdout.flush()


if __name__ == "__main__":
    main()
