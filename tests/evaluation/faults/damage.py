"""Damaged inputs, drawn at random: clips, court files, rosters, kept files and names."""

import json
import random
from pathlib import Path
from typing import Any

import numpy as np

from stance.video.reader import read_frames
from stance.video.writer import VideoWriter

# What a length, a count or a size may be when a file lies.
EXTREMES = (0, 1, 0x7FFF, 0xFFFF, 0x7FFFFFFF, 0xFFFFFFFF)

NASTY_NUMBERS = (0, -1, 1e-300, 1e300, 10**30, -0.0, 2**63, 0.1)
NASTY_TEXTS = (
    "",
    "[/red]",
    "[bold]Mia",
    "=1+1",
    "\x1b[31m",
    "a\u2028b",
    "\u202eeim",
    "Zoe\u0308",
    "渡辺",
    "'; DROP TABLE entries",
    "../../x",
    "\ud800",
    "\udcff",
    "x" * 300,
    "\0",
    "<script>",
    "CON",
    "J-07\r\nK",
)


def flip_bytes(draw: random.Random, content: bytes) -> bytes:
    """Content with some bytes changed, cut out, set to nothing or to an extreme, or cut off."""
    data = bytearray(content)
    for _ in range(draw.choice((1, 1, 3, 30))):
        if not data:
            break
        # The head of a file decides most.
        place = draw.randrange(min(len(data), draw.choice((200, 5000, len(data)))))
        match draw.randrange(5):
            case 0:
                data[place] ^= 1 << draw.randrange(8)
            case 1:
                data[place : place + 4] = draw.choice(EXTREMES).to_bytes(4, "big")
            case 2:
                del data[place : place + draw.choice((1, 4, 1000))]
            case 3:
                data[place : place + 1000] = bytes(len(data[place : place + 1000]))
            case 4:
                del data[draw.randrange(len(data)) :]
    return bytes(data)


def change_json(draw: random.Random, content: str) -> str:
    """A JSON text with one of its values changed or gone, or with damaged text."""
    if draw.random() < 0.3:
        return flip_bytes(draw, content.encode()).decode(errors="replace")
    data = json.loads(content)
    part, step, inner = data, None, data
    while isinstance(inner, (dict, list)) and inner and draw.random() < 0.9:
        step = draw.choice(list(inner)) if isinstance(inner, dict) else draw.randrange(len(inner))
        part, inner = inner, inner[step]
    if step is None:
        return json.dumps(_draw_value(draw))
    if draw.random() < 0.2:
        del part[step]
    else:
        part[step] = _draw_value(draw)
    return json.dumps(data)


def misplace_marks(draw: random.Random, points: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Marks of a court that are not where they belong: shifted, swapped, mirrored, on one spot."""
    points = draw.sample(points, draw.choice((4, 5, 6, 8, len(points))))
    pixels = [list(point["pixel"]) for point in points]
    case = draw.randrange(6)
    if case == 0:
        reach = draw.choice((0.0, 1.0, 30.0, 1000.0))
        pixels = [[x + draw.gauss(0, reach), y + draw.gauss(0, reach)] for x, y in pixels]
    elif case == 1:
        draw.shuffle(pixels)
    elif case == 2:
        pixels = [[1280 - x, y] for x, y in pixels]
    elif case == 3:
        pixels = [pixels[0]] * len(pixels)
    elif case == 4:
        pixels = [[x, 0.5 * x + draw.choice((0, 1e-9, 1.0))] for x, _ in pixels]
    else:
        scale = draw.choice((1e-6, 0.01, 0.5))
        pixels = [[scale * x, scale * y] for x, y in pixels]
    return [{**p, "pixel": pixel} for p, pixel in zip(points, pixels, strict=True)]


def _draw_value(draw: random.Random) -> object:
    nested: object = []
    for _ in range(draw.choice((1, 60, 400))):
        nested = [nested]
    return draw.choice(
        (None, True, nested, {}, float("inf"), float("nan"), *NASTY_NUMBERS, *NASTY_TEXTS)
    )


def change_roster(draw: random.Random, content: str) -> bytes:
    """A roster with nasty cells, odd separators and line ends, or damaged bytes."""
    lines = [line.split(",") for line in content.splitlines()]
    for _ in range(draw.randrange(3)):
        row = draw.choice(lines)
        # Names and sessions may be anything; the rest is checked.
        column = draw.choice((0, 6, draw.randrange(len(row))))
        row[column] = draw.choice(NASTY_TEXTS) if draw.random() < 0.5 else draw_name(draw)
    if draw.random() < 0.1:
        draw.choice(lines).append("more")
    end = draw.choice(("\n", "\r\n", "\r", "\n\n", "\u2028"))
    separator = draw.choice((",", ",", ",", ";", "\t"))
    text = end.join(separator.join(row) for row in lines)
    encoding = draw.choice(("utf-8", "utf-8", "utf-8-sig", "utf-16", "latin-1"))
    encoded = text.encode(encoding, "replace")
    return flip_bytes(draw, encoded) if draw.random() < 0.3 else encoded


def draw_name(draw: random.Random) -> str:
    """A name that trips up files, tables, terminals or pages."""
    if draw.random() < 0.5:
        return draw.choice(NASTY_TEXTS)
    letters = (draw.randrange(draw.choice((0x80, 0x3000, 0x110000))) for _ in range(8))
    return "".join(map(chr, letters))


def cut_clip(clip: Path, short: Path, seconds: float) -> None:
    """Write the beginning of a clip as one of its own, small."""
    first = next(read_frames(clip))
    with VideoWriter(short, (first.size[0] // 2, first.size[1] // 2), 30.0) as writer:
        for frame in read_frames(clip):
            if frame.time_s > seconds:
                return
            if frame.index % 2 == 0:
                image = frame.image[::2, ::2][: first.size[1] // 2, : first.size[0] // 2]
                writer.write(np.ascontiguousarray(image), frame.time_s)


def drop_pictures(draw: random.Random, clip: Path, gapped: Path) -> None:
    """Write a clip with gaps, or with few pictures a second."""
    frames = list(read_frames(clip))
    keep = [True] * len(frames)
    if draw.random() < 0.4:
        step = draw.choice((3, 8, 15))
        keep = [index % step == 0 for index in range(len(frames))]
    for _ in range(draw.choice((0, 1, 3))):
        start, length = draw.randrange(len(frames)), draw.choice((5, 12, 30))
        keep[start : start + length] = [False] * len(keep[start : start + length])
    keep[0] = keep[-1] = True
    stretch = draw.choice((1.0, 1.0, 1000.0))
    with VideoWriter(gapped, frames[0].size, 30.0) as writer:
        for frame, kept in zip(frames, keep, strict=True):
            if kept:
                writer.write(frame.image, frame.time_s * stretch)
