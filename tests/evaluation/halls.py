"""Halls for searching the court in: floors of other sports, and nets as they hang.

Sizes are those of the sports' published rules, from memory: volleyball (FIVB, Official Volleyball
Rules, rule 1), tennis (ITF, Rules of Tennis, rule 1), basketball (FIBA, Official Basketball Rules,
article 2) and handball (IHF, Rules of the Game, rule 1).
"""

from dataclasses import dataclass, replace

import numpy as np

from tests.rendering.arrays import FloatArray
from tests.rendering.clips import Clip
from tests.rendering.hall import Hall
from tests.rendering.light import linear
from tests.rendering.raster import Window
from tests.rendering.scene import EmptyScene, render_empty
from tests.rendering.schemes import FOREIGN_LINE_COLOURS

FEET_M = 0.3048
# Two colours whose linear light differs less in all of red, green and blue look alike.
_OTHER_COLOUR = 0.25


@dataclass(frozen=True)
class Floor:
    """A sport's lines; `y` runs along the floor, the middle is the origin, metres.

    `along`: x of lines and from where to where in y; `across`: y of lines and from where to where
    in x, each for one half, the other mirrors it; `circles`: y of the centre and radius. `width`
    of lines.
    """

    width: float
    along: tuple[tuple[float, float, float], ...]
    across: tuple[tuple[float, float, float], ...]
    circles: tuple[tuple[float, float], ...] = ()


FLOORS = {
    "volleyball": Floor(
        0.05,
        ((4.5, 0.0, 9.0), (-4.5, 0.0, 9.0)),
        ((0.0, -4.5, 4.5), (3.0, -4.5, 4.5), (9.0, -4.5, 4.5)),
    ),
    "tennis": Floor(
        0.05,
        (
            *((side * 18.0 * FEET_M, 0.0, 39.0 * FEET_M) for side in (-1, 1)),
            *((side * 13.5 * FEET_M, 0.0, 39.0 * FEET_M) for side in (-1, 1)),
            (0.0, 0.0, 21.0 * FEET_M),
        ),
        (
            (21.0 * FEET_M, -13.5 * FEET_M, 13.5 * FEET_M),
            (39.0 * FEET_M, -18.0 * FEET_M, 18.0 * FEET_M),
        ),
    ),
    "basketball": Floor(
        0.05,
        (
            *((side * 7.5, 0.0, 14.0) for side in (-1, 1)),
            *((side * 2.45, 8.2, 14.0) for side in (-1, 1)),
            *((side * 6.6, 11.01, 14.0) for side in (-1, 1)),
        ),
        ((0.0, -7.5, 7.5), (8.2, -2.45, 2.45), (14.0, -7.5, 7.5)),
        ((0.0, 1.8), (8.2, 1.8), (12.425, 6.75)),
    ),
    "handball": Floor(
        0.05,
        ((10.0, 0.0, 20.0), (-10.0, 0.0, 20.0)),
        ((0.0, -10.0, 10.0), (13.0, -0.5, 0.5), (14.0, -1.5, 1.5), (20.0, -10.0, 10.0)),
        ((20.0, 6.0), (20.0, 9.0)),
    ),
}
"""The basketball and handball arcs are drawn as whole circles."""


def paint_instead(hall: Hall, floor: Floor, colour: FloatArray) -> Hall:
    """A hall with another sport's lines in place of the badminton courts'.

    Parameters
    ----------
    hall
        Where it is painted.
    floor
        The sport's lines.
    colour
        (3,) of the lines, linear light.
    """
    kept = hall.lines[hall.lines[:, -1] == 0]
    colours = hall.colours.copy()
    colours[1] = colours[0]
    return replace(
        hall,
        lines=np.concatenate([kept, rectangles(floor, colour)]),
        circles=np.concatenate([hall.circles, rings(floor, colour)]),
        colours=colours,
    )


def paint_school(hall: Hall, rng: np.random.Generator) -> Hall:
    """A hall with the whole floors of volleyball, basketball and handball under its own lines.

    Each sport has a colour of its own, as in school gyms (common practice). Volleyball shares the
    badminton court's middle in six of ten, as where both use the same posts; basketball and
    handball lie along it or across.
    """
    tints = [linear(tint) for tint in rng.permutation(FOREIGN_LINE_COLOURS)]
    tints = [tint for tint in tints if np.abs(tint - hall.colours[2]).max() > _OTHER_COLOUR]
    across = rng.uniform() < 0.5
    lines, circles = [], []
    for sport, colour in zip(("handball", "basketball", "volleyball"), tints, strict=False):
        shift = rng.uniform((-3.0, -5.0), (3.0, 5.0))
        if sport == "volleyball" and rng.uniform() < 0.6:
            shift = np.zeros(2)
        rows, arcs = rectangles(FLOORS[sport], colour), rings(FLOORS[sport], colour)
        if across and sport != "volleyball":
            rows, arcs = rows[:, [2, 3, 0, 1, 4, 5, 6, 7]], arcs[:, [1, 0, 2, 3, 4, 5]]
        rows[:, :4] += shift[[0, 0, 1, 1]]
        arcs[:, :2] += shift
        lines.append(rows)
        circles.append(arcs)
    return replace(
        hall,
        lines=np.concatenate([*lines, hall.lines]),
        circles=np.concatenate([*circles, hall.circles]),
    )


def rectangles(floor: Floor, colour: FloatArray) -> FloatArray:
    """A floor's straight lines, (n, 8) as of `Hall.lines`."""
    half = floor.width / 2
    rows = []
    for sign in (-1.0, 1.0):
        for x, *ends in floor.along:
            low, high = sorted(sign * end for end in ends)
            rows.append((x - half, x + half, low, high, *colour, 0.0))
        for y, low, high in floor.across:
            rows.append((low, high, sign * y - half, sign * y + half, *colour, 0.0))
    return np.array(rows)


def rings(floor: Floor, colour: FloatArray) -> FloatArray:
    """A floor's circles and arcs, (n, 6) as of `Hall.circles`."""
    rows = [(0.0, sign * y, radius, *colour) for sign in (-1, 1) for y, radius in floor.circles]
    return np.array(rows).reshape(-1, 6)


def hang_net(hall: Hall, rng: np.random.Generator) -> Hall:
    """A hall whose net hangs up to 4 cm too high or low, its middle up to 8 cm lower still."""
    return replace(hall, net_hangs_m=(rng.uniform(-0.04, 0.04), rng.uniform(-0.08, 0.0)))


def without_net(scene: EmptyScene) -> EmptyScene:
    """The same hall without the net."""
    net = replace(scene.net, colour=0 * scene.net.colour, cover=0 * scene.net.cover)
    return replace(scene, net=net)


def in_hall(clip: Clip, hall: Hall) -> Clip:
    """The same clip in another hall."""
    return replace(clip, scene=render_empty(hall, clip.camera, Window(0, 0, *clip.camera.size)))
