"""The benchmark's films: drills and play of one or two defenders, rendered once and repeated."""

import shutil
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from fractions import Fraction
from itertools import cycle, islice
from multiprocessing import get_context
from pathlib import Path

import av
import numpy as np

from stance.video.reader import read_frames
from tests.evaluation.play_loop import render_loop
from tests.paths import DATA

SEED, SPLIT, VIEW, SIZE, RATE = 2, "tune", "behind", (1920, 1080), 60
DRILL_POSITIONS = 4
BIT_RATE = 20_000_000


def make_film(folder: Path, defenders: int, seconds: int, between: int = 0) -> Path:
    """Make a film of a drill with a phone's bit rate unless it is there; returns its path.

    In a process of its own: whatever a process starts has at least the peak memory that this
    process had till then. At most `between` pictures in a row are predicted from those before and
    after them.
    """
    with ProcessPoolExecutor(1, get_context("spawn")) as apart:
        drill = apart.submit(_render_drill, folder, defenders).result()
        return apart.submit(_repeat_drill, drill, seconds, between).result()


def make_play_film(folder: Path, defenders: int, seconds: int) -> Path:
    """Make a film of constant play with a phone's bit rate unless it is there; returns its path.

    A stroke is faced every 1.5 seconds, and nobody rests; a loop of four strokes is repeated.
    """
    path = folder / f"play_{defenders}_{seconds}s.mp4"
    if not path.exists():
        with ProcessPoolExecutor(1, get_context("spawn")) as apart:
            loop = apart.submit(render_loop, folder, defenders).result()
            apart.submit(_write_film, path, loop, _over_and_over, seconds, 0).result()
    return path


def copy_sample(folder: Path) -> Path:
    """Copy the still drill and its court file to a folder; returns the clip's path."""
    for file in DATA.glob("rear_corner_drill.*"):
        shutil.copy(file, folder)
    return folder / "rear_corner_drill.mp4"


def repeat_film(film: Path, times: int) -> Path:
    """Put a film behind itself some times, without coding it anew."""
    path = film.with_name(f"{film.stem}_{times}_times.mp4")
    if not path.exists():
        part = path.with_name(f".{path.name}")
        with av.open(str(part), "w", format="mp4") as container:
            stream, shift = None, 0
            for _ in range(times):
                with av.open(str(film)) as source:
                    given = source.streams.video[0]
                    stream = stream or container.add_stream_from_template(given)
                    for packet in source.demux(given):
                        if packet.dts is not None:
                            packet.pts, packet.dts = packet.pts + shift, packet.dts + shift
                            packet.stream = stream
                            container.mux(packet)
                    shift += given.duration
        part.replace(path)
        path.with_suffix(".court.json").write_bytes(film.with_suffix(".court.json").read_bytes())
    return path


def _render_drill(folder: Path, defenders: int) -> Path:
    """Render the short drill unless it is there; returns its path."""
    from tests.rendering.clip_files import write_clip
    from tests.rendering.pairs import draw_pair_clip

    path = folder / f"drill_{defenders}.mp4"
    if not path.exists():
        clip = draw_pair_clip(SEED, SPLIT, VIEW, DRILL_POSITIONS, SIZE, RATE)
        write_clip(clip if defenders == 2 else replace(clip, partner=None), folder, path.stem)
    return path


def _repeat_drill(drill: Path, seconds: int, between: int) -> Path:
    """Play a drill forwards and backwards for some seconds."""
    path = drill.with_name(f"{drill.stem}_{seconds}s{f'_{between}_between' * bool(between)}.mp4")
    if not path.exists():
        _write_film(path, drill, _to_and_fro, seconds, between)
    return path


def _write_film(
    path: Path,
    clip: Path,
    pictures: Callable[[Path], Iterator[np.ndarray]],
    seconds: int,
    between: int,
) -> None:
    """Write endless pictures of a clip for some seconds, with light noise, and its court file."""
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
        for number, image in enumerate(islice(pictures(clip), seconds * RATE)):
            noisy = np.clip(image + noise[number % 8], 0, 255).astype(np.uint8)
            picture = av.VideoFrame.from_ndarray(noisy, format="rgb24")
            picture.pts, picture.time_base = number, Fraction(1, RATE)
            container.mux(stream.encode(picture))
        container.mux(stream.encode(None))
    part.replace(path)
    path.with_suffix(".court.json").write_bytes(clip.with_suffix(".court.json").read_bytes())


def _to_and_fro(drill: Path) -> Iterator[np.ndarray]:
    """Frames of a drill forwards, backwards, forwards and so on."""
    frames = [frame.image for frame in read_frames(drill)]
    order = [*range(len(frames)), *range(len(frames) - 2, 0, -1)]
    for number in cycle(order):
        yield frames[number]


def _over_and_over(loop: Path) -> Iterator[np.ndarray]:
    """Frames of a loop, again and again."""
    while True:
        for frame in read_frames(loop):
            yield frame.image
