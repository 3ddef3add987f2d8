"""The loop of constant play has no seam."""

import numpy as np

from tests.evaluation.play_loop import (
    BLEND_S,
    FIRST_CONTACT_S,
    INTERVAL_S,
    LOOP_STROKES,
    Loop,
    constant_rally,
)
from tests.rendering.drill import numbers_of
from tests.rendering.play.clip import Options, draw_play

STEP_S = 1 / 240


def _row(posture):
    feet = [[f.x, f.y, f.height] for f in (posture.racket_foot, posture.other_foot)]
    return np.concatenate([numbers_of(posture), np.ravel(feet)])


def test_the_loop_ends_as_it_begins_and_is_the_motion_itself_before_that():
    play = draw_play(2, "tune", Options(rally=constant_rally(LOOP_STROKES + 2)))
    assert play.opposite == "player"
    for person in (play.defender, play.attacker):
        loop = Loop(person.motion, FIRST_CONTACT_S + 1.2, LOOP_STROKES * INTERVAL_S)
        times = np.arange(-0.5, 0.5, STEP_S)
        steps = np.abs(np.diff([_row(loop.posture(t)) for t in times], axis=0)).max(axis=1)
        seam = np.argmin(np.abs(times))
        assert steps[seam - 2 : seam + 2].max() < 2 * np.median(steps) + 0.02
        middle = loop.duration_s - BLEND_S - 0.01
        assert loop.posture(middle) == person.motion.posture(loop.start_s + middle)


def test_a_stroke_is_faced_in_every_interval():
    contacts = [exchange.contact_s for exchange in constant_rally(6).exchanges]
    np.testing.assert_allclose(np.diff(contacts), INTERVAL_S)
