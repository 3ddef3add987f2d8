"""A random sports hall: floor and lines, walls, clutter, lamps and light."""

from dataclasses import dataclass

import numpy as np

from stance.court.dimensions import (
    COURT_LENGTH,
    COURT_WIDTH,
    court_lines,
)
from tests.rendering.arrays import FloatArray
from tests.rendering.light import linear
from tests.rendering.schemes import CLUTTER_COLOURS, FOREIGN_LINE_COLOURS, SCHEMES
from tests.rendering.shading import Lighting
from tests.rendering.splits import choose


@dataclass(frozen=True)
class Hall:
    """All of a hall that a picture needs; colours are linear light.

    `bounds` (6,): x, x, y, y of the walls, and the heights of ceiling and of the lower wall's
    edge, metres. `colours` (6, 3): floor, court, lines, lower wall, upper wall, ceiling.
    `lines` (n, 8): x0, x1, y0, y1 of painted rectangles, colour (3), 1 where repeated on the
    neighbouring courts. `circles` (n, 6): centre, radius, colour. `boxes` (n, 9): lowest corner,
    highest corner, colour. `panels` (n, 8): wall (0..3), from, to along it, from, to in height,
    colour. `lamps` (n, 5): x0, x1, y0, y1 on the ceiling and brightness. `net_hangs_m`: by how much
    the net hangs too high at the posts and, beyond that, in the middle.
    """

    bounds: FloatArray
    colours: FloatArray
    lines: FloatArray
    circles: FloatArray
    boxes: FloatArray
    panels: FloatArray
    lamps: FloatArray
    floor_kind: int
    neighbour_gap: float
    gloss: float
    net_colour: FloatArray
    lighting: Lighting
    net_hangs_m: tuple[float, float] = (0.0, 0.0)


def draw_hall(rng: np.random.Generator, split: str, camera: FloatArray) -> Hall:
    """A random hall in the split's colours, large enough to hold the camera at (3,) metres."""
    scheme = choose(rng, split, SCHEMES)
    painted = (scheme.floor, scheme.court, scheme.lines, scheme.lower_wall, scheme.upper_wall)
    shade = rng.uniform(0.9, 1.1)
    ceiling = linear(np.full(3, rng.uniform(0.35, 0.85)))
    colours = np.array([*(shade * linear(c) for c in painted), ceiling])
    half_x, half_y = COURT_WIDTH / 2, COURT_LENGTH / 2
    room = rng.uniform((1.2, 1.2, 1.0, 1.0), (13.0, 13.0, 6.0, 6.0))
    bounds = np.array(
        [
            min(-half_x - room[0], camera[0] - 0.6),
            max(half_x + room[1], camera[0] + 0.6),
            min(-half_y - room[2], camera[1] - 0.6),
            max(half_y + room[3], camera[1] + 0.6),
            rng.uniform(6.0, 10.0),
            rng.uniform(1.2, 3.0),
        ]
    )
    tint = np.clip(1.0 + rng.normal(0, 0.05, 3), 0.85, 1.15)
    return Hall(
        bounds=bounds,
        colours=np.clip(colours, 0, 1),
        lines=_all_lines(rng, colours[2], bounds),
        circles=_foreign_circles(rng),
        boxes=_clutter(rng, bounds),
        panels=_wall_panels(rng, bounds),
        lamps=_lamps(rng, bounds),
        floor_kind=scheme.floor_kind,
        neighbour_gap=rng.uniform(1.2, 2.5),
        gloss=rng.uniform(0.0, 0.12),
        net_colour=linear(np.full(3, rng.uniform(0.08, 0.4))),
        lighting=_lighting(rng, tint),
    )


def _all_lines(rng: np.random.Generator, colour: FloatArray, bounds: FloatArray) -> FloatArray:
    """The court's lines, repeated on neighbouring courts, under a few lines of other sports."""
    rows = []
    if rng.uniform() < 0.6:
        for _ in range(rng.integers(2, 7)):
            tint = linear(FOREIGN_LINE_COLOURS[rng.integers(len(FOREIGN_LINE_COLOURS))])
            width = rng.choice((0.04, 0.05, 0.05, 0.08))
            if rng.uniform() < 0.5:
                x = rng.uniform(bounds[0], bounds[1])
                rows.append((x, x + width, -9.0, rng.uniform(3.0, 9.0), *tint, 0.0))
            else:
                y = rng.uniform(-7.5, 7.5)
                rows.append((rng.uniform(bounds[0], 0.0), bounds[1], y, y + width, *tint, 0.0))
    rows += [(*line.x, *line.y, *colour, 1.0) for line in court_lines()]
    return np.array(rows)


def _foreign_circles(rng: np.random.Generator) -> FloatArray:
    """Circles and arcs of other sports, (n, 6)."""
    count = rng.integers(0, 3) if rng.uniform() < 0.6 else 0
    rows = [
        (
            *rng.uniform((-6, -8), (6, 8)),
            rng.uniform(1.5, 6.75),
            *linear(FOREIGN_LINE_COLOURS[rng.integers(len(FOREIGN_LINE_COLOURS))]),
        )
        for _ in range(count)
    ]
    return np.array(rows).reshape(-1, 6)


def _clutter(rng: np.random.Generator, bounds: FloatArray) -> FloatArray:
    """Benches, boxes and bags along the walls and beside the court, (n, 9)."""
    rows = []
    for _ in range(rng.integers(2, 12)):
        size = rng.uniform((0.25, 0.25, 0.2), (1.2, 1.8, 1.3))
        if rng.uniform() < 0.35:
            size = np.array([0.32, rng.uniform(1.5, 3.0), 0.42])
        if rng.uniform() < 0.5:
            size[:2] = size[1::-1]
        side = rng.integers(4)
        x = rng.uniform(bounds[0], bounds[1] - size[0])
        y = rng.uniform(bounds[2], bounds[3] - size[1])
        gap = rng.uniform(0.0, 0.4)
        x = (bounds[0] + gap, bounds[1] - gap - size[0], x, x)[side]
        y = (y, y, bounds[2] + gap, bounds[3] - gap - size[1])[side]
        low = np.array([x, y, 0.0])
        colour = linear(CLUTTER_COLOURS[rng.integers(len(CLUTTER_COLOURS))])
        rows.append((*low, *(low + size), *np.clip(colour * rng.uniform(0.7, 1.3), 0, 1)))
    return np.array(rows)


def _wall_panels(rng: np.random.Generator, bounds: FloatArray) -> FloatArray:
    """Doors, windows, mats and boards on the walls, (n, 8)."""
    rows = []
    for wall in range(4):
        low, high = (bounds[2], bounds[3]) if wall < 2 else (bounds[0], bounds[1])
        if rng.uniform() < 0.4:
            count, bottom = rng.integers(2, 7), rng.uniform(2.6, 4.0)
            edges = np.linspace(low, high, 2 * count + 2)
            glass = rng.uniform(0.4, 1.0) * np.array([0.9, 1.0, 1.05])
            rows += [
                (wall, a, b, bottom, bottom + 1.4, *glass)
                for a, b in zip(edges[1::2], edges[2::2], strict=False)
            ]
        for _ in range(rng.integers(0, 5)):
            start, bottom = rng.uniform(low, high), rng.choice((0.0, 0.0, 0.8, 1.2))
            width, height = rng.uniform((0.6, 0.5), (2.5, 2.1))
            colour = linear(CLUTTER_COLOURS[rng.integers(len(CLUTTER_COLOURS))])
            rows.append((wall, start, start + width, bottom, bottom + height, *colour))
    return np.array(rows).reshape(-1, 8)


def _lamps(rng: np.random.Generator, bounds: FloatArray) -> FloatArray:
    """Rows of ceiling lamps, (n, 5)."""
    spacing = rng.uniform(2.5, 4.5)
    size = rng.uniform((0.3, 0.8), (0.8, 1.6))
    return np.array(
        [
            (x, x + size[0], y, y + size[1], 1.6)
            for x in np.arange(bounds[0] + 1, bounds[1] - 1, spacing)
            for y in np.arange(bounds[2] + 1, bounds[3] - 1, spacing)
        ]
    ).reshape(-1, 5)


def _lighting(rng: np.random.Generator, tint: FloatArray) -> Lighting:
    """Ambient light and three lamps overhead, one of them stronger."""
    count = 3
    azimuths, heights = rng.uniform(0, 2 * np.pi, count), rng.uniform(0.5, 1.35, count)
    directions = np.stack(
        [
            np.cos(azimuths) * np.cos(heights),
            np.sin(azimuths) * np.cos(heights),
            np.sin(heights),
        ],
        axis=1,
    )
    ambient = rng.uniform(0.35, 0.6)
    shares = rng.dirichlet((2.0, 2.0, 2.0)) * (1.15 - ambient)
    return Lighting(ambient * tint, directions, shares[:, None] * tint[None])
