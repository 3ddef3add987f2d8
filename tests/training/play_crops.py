"""Rectified crops of rendered play with their truth: a defender about each planted spell.

`python -m tests.training crops --play --tune 40 FOLDER`: of each stroke faced set, the last picture
with a foot in the air and three of the planted spell, blurred by motion and as compressed as those
of a clip.
"""

from collections.abc import Iterator

import numpy as np

from tests.rendering.frames import as_coded, frames
from tests.rendering.measures import measure
from tests.rendering.play.clip import Options, Play, draw_play, play_clip
from tests.rendering.play.rally import Exchange
from tests.rendering.play.truth import BEFORE_S, planted_spell
from tests.rendering.stills import Still
from tests.training.crops import Source, cut_out

STROKES = 6

# Of a stroke's rows the first is of a foot in the air, the others of the planted spell.
ROWS = 4
IN_AIR_S = 0.1  # before the landing, at most


def moments_of(play: Play, exchange: Exchange) -> dict[int, int]:
    """Which frames of a stroke faced to take crops of.

    Returns
    -------
    row of the stroke -> number of the frame; empty where the defender was on the move
    """
    spell = planted_spell(play.defender, exchange)
    if spell is None:
        return {}
    times = play.frame_times
    inside = np.flatnonzero((times >= spell[0]) & (times < spell[1]))
    near = inside[times[inside] >= exchange.contact_s - BEFORE_S]
    if not len(near):
        return {}
    places = np.linspace(0, len(near) - 1, ROWS - 1).round().astype(int)
    moments = {1 + k: int(near[place]) for k, place in enumerate(dict.fromkeys(places))}
    before = np.flatnonzero((times < spell[0]) & (times >= spell[0] - IN_AIR_S))
    in_air = before[~play.defender.planted(times[before]).all(axis=1)]
    if len(in_air):
        moments[0] = int(in_air[-1])
    return moments


def _render(seed: int, split: str) -> Iterator[tuple[int, dict[str, np.ndarray]]]:
    """Render a clip's moments; yield rows of the seed, and crops with their truth."""
    play = draw_play(seed, split, Options(strokes=STROKES))
    rows: dict[int, list[int]] = {}
    for number, exchange in enumerate(play.rally.exchanges):
        for row, frame in moments_of(play, exchange).items():
            rows.setdefault(frame, []).append(ROWS * number + row)
    clip, person = play_clip(play), play.defender
    chosen = sorted(rows)
    for number, picture in zip(chosen, frames(clip, chosen), strict=True):
        joints = person.joints(play.frame_times[[number]])[0]
        still = Still(
            image=as_coded(picture, clip.finish),
            offset=(0, 0),
            camera=play.camera,
            hand=person.hand,
            view=play.view,
            stature_m=person.skeleton.body.phenotype.stature_m,
            joints=joints,
            measures=measure(joints, person.hand),
        )
        for row in rows[number]:
            yield row, cut_out(still)


PLAY_CROPS = Source(_render, ROWS * STROKES)
