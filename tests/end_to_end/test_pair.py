"""Both defenders of a rendered pair, followed as who they are; a coach beside the court is not."""

import pytest

from stance.analysis import analyse
from stance.assessment.analysis_model import Analysis
from stance.assessment.options import AnalysisOptions
from tests.evaluation.pair_accuracy import Score, score
from tests.paths import DATA

# python -m tests.rendering pair --seed 1 --split tune --view behind --positions 3
# --size 1280x720 --rate 30: somebody moves beside the court.
CLIP = DATA / "pair.mp4"


@pytest.fixture(scope="module")
def pair_score() -> Score:
    return score(CLIP)


def test_both_defenders_are_found_in_nearly_every_frame(pair_score: Score) -> None:
    assert pair_score.found >= 0.99 * pair_score.visible


def test_nobody_is_taken_for_somebody_else(pair_score: Score) -> None:
    assert pair_score.swaps == 0
    assert pair_score.strangers == 0
    assert pair_score.hands == 2


def test_letters_go_from_left_to_right_and_names_go_with_them() -> None:
    found: Analysis = analyse(
        CLIP,
        CLIP.with_suffix(".court.json"),
        AnalysisOptions(hand="right", names={"B": "Mia"}),
    )
    left, right = found.result.players
    assert (left.player, right.player, right.title) == ("A", "B", "Mia")
    assert left.ready_positions[0].base_m[0] < right.ready_positions[0].base_m[0]
