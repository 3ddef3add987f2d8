"""The two pictures beside the advice, in words."""

import numpy as np

from stance.assessment.picture_key import PictureKey
from stance.reports.examples import list_examples
from stance.reports.packed_pictures import pack_pictures
from tests.unit.assessment.advised import HIPS_BACK, ON_THE_MOVE, SQUARE, defender

SHADE = np.full((40, 30, 3), 120, np.uint8)


def shown(player, kind, *keys):
    packed = pack_pictures({key: SHADE for key in keys})
    return [
        (e["side"], e["title"], e["words"], e["link"])
        for e in list_examples(player, kind, packed, "player-1")
    ]


def test_the_clearest_right_and_wrong_lead_to_their_cards():
    player = defender([SQUARE, HIPS_BACK])
    assert shown(player, "over_side_on", PictureKey("A", 1), PictureKey("A", 2)) == [
        ("right", "Clearest right", "feet 4° back, hips 3° in front", "#player-1-1"),
        ("wrong", "To work on", "feet 6° back, hips 56° back", "#player-1-2"),
    ]
    (unsure,) = shown(player, "too_few", PictureKey("A", 2))
    assert unsure[:2] == ("wrong", "Clearest over-side-on")
    assert shown(player, "over_side_on") == []


def test_a_late_landing_and_a_stroke_met_on_the_move_are_told_as_such():
    player = defender([SQUARE, ON_THE_MOVE], landing_s=0.28)
    ((_, _, words, link),) = shown(player, "late", PictureKey("A", 1, "contact"))
    assert (words, link) == ("at the contact; both feet down 0.28 s later", "#player-1-1")
    early = defender([SQUARE], landing_s=-0.1)
    (right, _) = shown(early, "late", PictureKey("A", 1, "contact"))
    assert right[2] == "at the contact; both feet already down"
    ((_, _, words, link),) = shown(player, "on_the_move", PictureKey("A", 2, "stroke"))
    assert (words, link) == ("on the move at the contact, 3.0 s", "")
