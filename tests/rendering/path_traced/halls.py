"""Halls of the second way of rendering: floor and lines, walls with windows, lamps, the net."""

from dataclasses import dataclass

import numpy as np

from tests.rendering.arrays import FloatArray
from tests.rendering.path_traced.models import (
    CLOUDS,
    GRAIN,
    PLAIN,
    Colour,
    Model,
    Surface,
    box,
    plane,
)

# The Laws of Badminton, Law 1 and Diagram A; metres.
_HALF_WIDTH, _HALF_LENGTH, _LINE = 3.05, 6.70, 0.04
_TRAMLINE, _SHORT_SERVICE, _LONG_SERVICE = 0.46, 1.98, 0.76
_TAPE_TOP, _TAPE, _NET_LOW = 1.524, 0.075, 0.76

LOOKS = ("AgX", "Filmic", "Standard", "Khronos PBR Neutral")


@dataclass(frozen=True)
class Lamp:
    """A lamp: "area" with `place` and `size` (two sides), metres, and `power` in watts, or "sun",
    shining along `direction` with `power` watts a square metre."""

    kind: str
    place: tuple[float, float, float]
    direction: tuple[float, float, float]
    size: tuple[float, float]
    power: float
    colour: Colour


@dataclass(frozen=True)
class Hall:
    """A hall: its models, lamps, light from above `sky`, and how pictures of it are developed."""

    models: tuple[Model, ...]
    lamps: tuple[Lamp, ...]
    sky: Colour
    look: str
    exposure: float


def draw_hall(rng: np.random.Generator, camera: FloatArray) -> Hall:
    """A random hall around a camera (3,) that stands inside it."""
    half_x = max(rng.uniform(4.5, 12.0), abs(camera[0]) + 0.4)
    half_y = max(rng.uniform(8.5, 17.0), abs(camera[1]) + 0.4)
    height = float(rng.uniform(5.5, 10.0))
    sunny = rng.uniform() < 0.4
    models = [_floor(rng, half_x, half_y), *_lines(rng), *_net(rng)]
    models += _walls(rng, (half_x, half_y, height), sunny)
    models += _clutter(rng, half_x, half_y)
    warmth = rng.uniform(-0.12, 0.12)
    sky_strength = rng.uniform(0.15, 0.7)
    sky = (sky_strength * (1 - warmth), sky_strength, sky_strength * (1 + warmth))
    return Hall(
        tuple(models),
        tuple(_lamps(rng, (half_x, half_y, height), sunny)),
        sky,
        str(rng.choice(LOOKS)),
        float(rng.uniform(-0.6, 0.7)),
    )


def _floor(rng: np.random.Generator, half_x: float, half_y: float) -> Model:
    """Wood, or a mat, that mirrors more or less."""
    gloss = float(rng.uniform(0.12, 0.7))
    if rng.uniform() < 0.5:
        tone = rng.uniform(0.5, 1.3)
        wood = (0.42 * tone, 0.25 * tone, 0.12 * tone)
        dark = tuple(0.6 * c for c in wood)
        surface = Surface(wood, (dark[0], dark[1], dark[2]), GRAIN, 0.09, gloss)
    else:
        mats = ((0.02, 0.14, 0.07), (0.02, 0.07, 0.22), (0.25, 0.04, 0.04), (0.18, 0.18, 0.19))
        base = np.array(mats[int(rng.integers(len(mats)))]) * rng.uniform(0.6, 1.8)
        second = 0.8 * base
        surface = Surface(_triple(base), _triple(second), CLOUDS, 0.7, max(gloss, 0.3))
    return plane((-half_x, -half_y), (half_x, half_y), 0.0, surface)


def _lines(rng: np.random.Generator) -> list[Model]:
    """The lines of the court, a millimetre above the floor."""
    paint = rng.uniform(0.6, 0.9)
    colour = (paint, paint, paint) if rng.uniform() < 0.8 else (paint, 0.8 * paint, 0.1 * paint)
    surface = Surface(colour, roughness=0.4)
    wide, long, t = _HALF_WIDTH, _HALF_LENGTH, _LINE
    strips = []
    for sign in (-1, 1):
        for x in (wide - t / 2, wide - _TRAMLINE - t / 2):
            strips.append((sign * x, 0.0, t, 2 * long))
        for y in (long - t / 2, long - _LONG_SERVICE - t / 2, _SHORT_SERVICE + t / 2):
            strips.append((0.0, sign * y, 2 * wide, t))
        strips.append((0.0, sign * (long + _SHORT_SERVICE) / 2, t, long - _SHORT_SERVICE))
    return [
        plane((x - dx / 2, y - dy / 2), (x + dx / 2, y + dy / 2), 0.001 + 0.0001 * k, surface)
        for k, (x, y, dx, dy) in enumerate(strips)
    ]


def _net(rng: np.random.Generator) -> list[Model]:
    """Tape, mesh and posts."""
    x, tape = _HALF_WIDTH, Surface((0.8, 0.8, 0.8), roughness=0.8)
    shade = float(rng.uniform(0.005, 0.08))
    mesh = Surface((shade, shade, shade), through=float(rng.uniform(0.55, 0.8)))
    corners = np.array(
        [[-x, 0, _NET_LOW], [x, 0, _NET_LOW], [x, 0, _TAPE_TOP], [-x, 0, _TAPE_TOP]], float
    )
    post = Surface(_triple(rng.uniform(0.02, 0.5, 3)), roughness=0.3)
    return [
        box((-x, -0.004, _TAPE_TOP - _TAPE), (x, 0.004, _TAPE_TOP), tape),
        Model(corners[None], np.array([[0, 1, 2], [0, 2, 3]]), mesh, smooth=False),
        *(box((s - 0.02, -0.02, 0.0), (s + 0.02, 0.02, 1.55), post) for s in (-x - 0.02, x + 0.02)),
    ]


def _walls(rng: np.random.Generator, size: tuple[float, float, float], sunny: bool) -> list[Model]:
    """Four walls; where the sun shines, the wall at its side has windows."""
    half_x, half_y, height = size
    paint = Surface(
        _triple(rng.uniform(0.1, 0.85, 3) * rng.uniform(0.4, 1.0)),
        _triple(rng.uniform(0.1, 0.85, 3)),
        str(rng.choice((PLAIN, CLOUDS))),
        float(rng.uniform(0.5, 3.0)),
        0.8,
    )
    lower = Surface(_triple(rng.uniform(0.03, 0.6, 3)), roughness=0.5)
    split = float(rng.uniform(1.0, 2.6))
    walls = []
    for axis, sign in ((0, -1), (0, 1), (1, -1), (1, 1)):
        if sunny and (axis, sign) == (0, 1):
            continue
        half = (half_x, half_y)[axis]
        for low, high, surface in ((0.0, split, lower), (split, height, paint)):
            inner, outer = sorted((sign * half, sign * (half + 0.2)))
            first, last = [-half_x, -half_y, low], [half_x, half_y, high]
            first[axis], last[axis] = inner, outer
            walls.append(box(tuple(first), tuple(last), surface))
    if sunny:
        sill, top, step = 1.2, 0.75 * height, float(rng.uniform(1.8, 3.5))
        walls.append(box((half_x, -half_y, 0.0), (half_x + 0.2, half_y, sill), lower))
        walls.append(box((half_x, -half_y, top), (half_x + 0.2, half_y, height), paint))
        walls += [
            box((half_x, y, sill), (half_x + 0.2, y + 0.35 * step, top), paint)
            for y in np.arange(-half_y, half_y, step)
        ]
    return walls


def _clutter(rng: np.random.Generator, half_x: float, half_y: float) -> list[Model]:
    """Benches, bags, boards and boxes along the walls."""
    things = []
    for _ in range(int(rng.integers(4, 14))):
        wide, deep, high = rng.uniform((0.4, 0.3, 0.25), (2.5, 0.7, 1.8))
        along = rng.uniform(-1, 1)
        if rng.uniform() < 0.5:
            x, y = rng.choice((-1, 1)) * (half_x - deep), along * (half_y - wide)
            wide, deep = deep, wide
        else:
            x, y = along * (half_x - wide), rng.choice((-1, 1)) * (half_y - deep)
        if abs(x) < _HALF_WIDTH + 0.8 and abs(y) < _HALF_LENGTH + 0.8:
            continue
        surface = Surface(_triple(rng.uniform(0.02, 0.8, 3)), roughness=float(rng.uniform(0.2, 1)))
        things.append(
            box((x - wide / 2, y - deep / 2, 0.0), (x + wide / 2, y + deep / 2, high), surface)
        )
    return things


def _lamps(rng: np.random.Generator, size: tuple[float, float, float], sunny: bool) -> list[Lamp]:
    """Rows of lamps under the ceiling, and at times the sun."""
    half_x, half_y, height = size
    lamps = []
    colour = _triple(np.array([1.0, 0.93, 0.85]) + rng.uniform(-0.12, 0.12, 3))
    rows, columns = int(rng.integers(1, 4)), int(rng.integers(1, 3))
    power = float(rng.uniform(1500, 4500)) / (rows * columns)
    for y in np.linspace(-0.7, 0.7, rows) * half_y if rows > 1 else (rng.uniform(-5, 3),):
        for x in np.linspace(-0.6, 0.6, columns) * half_x if columns > 1 else (rng.uniform(-2, 2),):
            lamps.append(
                Lamp(
                    "area",
                    (float(x), float(y), height - 0.3),
                    (0.0, 0.0, -1.0),
                    (float(rng.uniform(0.3, 2.5)), float(rng.uniform(0.3, 2.5))),
                    power,
                    colour,
                )
            )
    if sunny:
        elevation, bearing = np.radians(rng.uniform(18, 45)), np.radians(rng.uniform(-35, 35))
        direction = (
            -float(np.cos(elevation) * np.cos(bearing)),
            -float(np.cos(elevation) * np.sin(bearing)),
            -float(np.sin(elevation)),
        )
        strength = float(rng.uniform(1.5, 6.0))
        lamps.append(
            Lamp("sun", (0.0, 0.0, 0.0), direction, (0.01, 0.01), strength, (1, 0.95, 0.85))
        )
    return lamps


def _triple(values: FloatArray) -> Colour:
    return float(values[0]), float(values[1]), float(values[2])
