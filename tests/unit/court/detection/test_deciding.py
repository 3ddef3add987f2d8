"""Which reading is chosen, and how sure it is."""

from dataclasses import replace

import numpy as np
import pytest

from stance.court.camera import Camera, project
from stance.court.detection.deciding import (
    choose_reading,
    count_on_court,
    estimate_confidence,
    is_played_on,
    is_sound,
    weigh,
)
from stance.court.detection.edges import Edges
from stance.court.detection.judging import JudgedReading
from stance.court.detection.net_tape import NetTape
from tests.unit.court.detection.pictures import BEHIND, CORNER, pixels_of

NONE = np.zeros(0)
NO_NET = NetTape(None, 0.0)
GOOD = JudgedReading(
    BEHIND,
    Edges(NONE.astype(int), np.zeros((0, 2)), NONE, NONE),
    explained=3.0,
    missing=0.2,
    stray=0.1,
    error_px=0.4,
    tape=NetTape(1.0, 0.5),
    lines_along=5,
    lines_across=4,
)
# The court beside it, whose middle is so many metres to the right.
SHIFT = 8.0
BESIDE = replace(
    GOOD,
    camera=Camera(
        BEHIND.matrix,
        BEHIND.rotation,
        BEHIND.translation + BEHIND.rotation @ [SHIFT, 0, 0],
        BEHIND.image_size,
    ),
)


@pytest.mark.parametrize(
    ("change", "sound"),
    [
        ({}, True),
        ({"lines_along": 1}, False),
        ({"lines_across": 1, "tape": NetTape(0.5, 0.5)}, False),
        ({"lines_across": 1}, True),  # the tape is a line across
        ({"lines_across": 1, "stray": 0.6}, False),  # but not where much is left over
        ({"lines_across": 1, "tape": NetTape(1.0, 0.05)}, False),  # nor where it is short
        ({"lines_along": 2, "lines_across": 2}, True),
        ({"lines_along": 2, "lines_across": 2, "stray": 1.0}, False),
        ({"lines_along": 2, "lines_across": 2, "missing": 0.4}, False),
        ({"lines_along": 3, "lines_across": 2, "missing": 0.4}, True),
        ({"missing": 3.5}, False),
        ({"explained": 0.4}, False),
        # Three and two, with and without a net that speaks for them.
        ({"lines_along": 3, "lines_across": 2, "stray": 1.0}, True),
        ({"lines_along": 3, "lines_across": 2, "stray": 1.0, "tape": NO_NET}, False),
        ({"lines_along": 3, "lines_across": 2, "stray": 0.8, "tape": NO_NET}, True),
    ],
)
def test_a_sound_reading_sees_two_lines_each_way_and_most_of_what_it_claims(change, sound):
    assert is_sound(replace(GOOD, **change)) == sound


def feet_on(shift):
    return pixels_of(BEHIND, np.array([[shift - 1.0, -4.0], [shift + 1.2, -3.5]]))


@pytest.mark.parametrize("camera, shift", [(GOOD.camera, 0.0), (BESIDE.camera, SHIFT)])
def test_people_are_counted_on_the_court_on_which_they_stand(camera, shift):
    assert count_on_court(camera, feet_on(shift)) == 2
    assert count_on_court(camera, feet_on(SHIFT - shift)) == 0


def test_of_courts_beside_each_other_the_one_with_people_is_chosen():
    assert choose_reading([GOOD, BESIDE], feet_on(0.0)) is GOOD
    assert choose_reading([GOOD, BESIDE], feet_on(SHIFT)) is BESIDE
    assert choose_reading([GOOD, BESIDE], np.zeros((0, 2))) is GOOD


def test_of_courts_beside_each_other_the_one_with_a_net_is_chosen():
    bare = replace(GOOD, tape=NetTape(0.1, 0.5))
    assert choose_reading([bare, BESIDE], feet_on(0.0)) is BESIDE
    assert choose_reading([BESIDE, bare], feet_on(0.0)) is BESIDE


def test_a_reading_that_leaves_little_over_is_chosen_before_one_that_scores_a_little_more():
    crowded = replace(GOOD, camera=CORNER, explained=5.0, missing=0.5, stray=3.0)
    assert crowded.score > GOOD.score
    assert choose_reading([crowded, GOOD], feet_on(0.0)) is GOOD


def test_what_a_reading_leaves_unexplained_takes_up_to_half_of_its_weight():
    assert weigh(GOOD) == pytest.approx(GOOD.score)
    crowded = replace(GOOD, stray=6.0)
    assert weigh(crowded) == pytest.approx(0.5 * crowded.score)


def test_where_no_court_has_a_net_the_one_with_people_is_chosen():
    bare, beside = (replace(court, tape=NetTape(0.1, 0.5)) for court in (GOOD, BESIDE))
    assert choose_reading([bare, beside], feet_on(SHIFT)) is beside


def test_a_court_is_played_on_where_feet_move_on_it():
    assert is_played_on(replace(GOOD, tape=NetTape(None, 0.0)), feet_on(0.0))
    assert not is_played_on(GOOD, feet_on(2 * SHIFT))


@pytest.mark.parametrize(
    ("tape", "played_on"),
    [
        (NetTape(1.0, 0.5), True),
        (NetTape(0.6, 0.5), False),
        (NetTape(1.0, 0.05), False),
        (NetTape(None, 0.0), False),
    ],
)
def test_hips_that_move_above_a_court_count_where_its_net_is_seen(tape, played_on):
    hips = project(BEHIND, np.array([[0.5, 6.0, 0.9]]))
    assert count_on_court(BEHIND, hips) == 0
    assert is_played_on(replace(GOOD, tape=tape), hips) == played_on


def test_another_court_in_the_same_place_is_not_beside():
    other = replace(GOOD, camera=CORNER)
    assert choose_reading([GOOD, other], feet_on(SHIFT)) is GOOD


def test_a_rival_that_reads_the_floor_otherwise_takes_confidence_away():
    alone = estimate_confidence(GOOD, [GOOD])
    rival = replace(GOOD, camera=CORNER)
    assert alone == 1.0
    assert estimate_confidence(GOOD, [GOOD, rival]) < 0.1
    assert estimate_confidence(GOOD, [GOOD, replace(rival, explained=1.5)]) == 1.0
    # Half of a court may be hidden: what can't be claimed by itself may still be the right one.
    assert estimate_confidence(GOOD, [GOOD, replace(rival, lines_across=0)]) < 0.1


def test_the_same_court_and_one_beside_it_are_no_rivals():
    turned = replace(
        GOOD, camera=replace(BEHIND, rotation=BEHIND.rotation @ np.diag([-1.0, -1.0, 1.0]))
    )
    assert estimate_confidence(GOOD, [GOOD, turned, BESIDE]) == 1.0


def test_a_missing_net_and_unexplained_lines_take_confidence_away():
    assert estimate_confidence(replace(GOOD, tape=NetTape(0.2, 0.5)), []) == pytest.approx(0.6)
    assert estimate_confidence(replace(GOOD, stray=2.5), []) < 0.6


def test_a_net_where_it_belongs_is_explained_like_a_line():
    crowded = replace(GOOD, stray=1.8)
    hidden = replace(crowded, tape=NetTape(None, 0.0))
    longer = replace(hidden, explained=GOOD.explained + GOOD.tape.length)
    assert estimate_confidence(crowded, []) == pytest.approx(estimate_confidence(longer, []))
    assert estimate_confidence(crowded, []) > estimate_confidence(hidden, [])


@pytest.mark.parametrize("missing", [0.0, 0.5])
def test_a_reading_that_explains_nothing_is_not_trusted(missing):
    tape = replace(GOOD.tape, share=None)
    nothing = replace(GOOD, explained=0.0, stray=0.0, missing=missing, tape=tape)
    assert estimate_confidence(nothing, [nothing]) == 0.0
