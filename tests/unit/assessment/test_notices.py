"""A coach is warned of what makes a player's measures unsure, and of nothing else."""

import math
from dataclasses import replace

import pytest

from stance.assessment.notices import (
    Who,
    court_file_notices,
    court_search_notice,
    nobody_notice,
    player_notices,
    said_place_notices,
)
from stance.assessment.players import MeasuredPlayer
from stance.court.calibration import CalibratedCourt, FoundCourt
from stance.results.model import ClipSummary, Met, StrokeFaced
from stance.types import ANGLES_UNSURE, AT_REST, FILMED_FROM, FILMED_FROM_WORDS, NET_UNKNOWN
from stance.watching.watched_clip import RacketHand
from tests.unit.figures import behind_camera
from tests.unit.results.invented import invented_position

B = Who("a.mp4", "B")
SURE = {"hip_yaw_se_deg": 6.0, "lead_angle_se_deg": 3.0}


def measured(confidence: float, *errors: dict) -> MeasuredPlayer:
    """A player with ready positions of some standard errors."""
    positions = tuple(invented_position(-10.0, 0.0, **{**SURE, **some}) for some in errors)
    return MeasuredPlayer(None, behind_camera(), RacketHand("right", confidence), positions)


@pytest.mark.parametrize(
    ("player", "codes"),
    [
        (measured(1.0, {}, {}), []),
        (measured(0.6, {}), ["hand_unsure"]),
        (measured(1.0), ["no_ready_position"]),
        (measured(0.6), ["hand_unsure", "no_ready_position"]),
        (measured(1.0, {"hip_yaw_se_deg": 9.0}), ["phone_place"]),
        (measured(1.0, {"lead_angle_se_deg": 5.0}), ["phone_place"]),
        (measured(1.0, {"remarks": (AT_REST,)}, {}), ["no_play"]),
        (
            measured(1.0, {"remarks": (ANGLES_UNSURE,), "hip_yaw_se_deg": math.nan}),
            ["angles_unsure"],
        ),
        (measured(1.0, {"hip_yaw_se_deg": math.nan}, {"hip_yaw_se_deg": 9.0}), ["phone_place"]),
        # Most positions are sure.
        (measured(1.0, {"hip_yaw_se_deg": 9.0}, {}, {}), []),
    ],
)
def test_each_player_is_warned_of_what_applies(player: MeasuredPlayer, codes: list[str]) -> None:
    notices = player_notices(B, player)
    assert [notice.code for notice in notices] == codes
    assert all("Player B" in notice.text for notice in notices)
    named = player_notices(Who("a.mp4", "B", "Mia"), player)
    assert all("Mia" in notice.text and "Player B" not in notice.text for notice in named)


@pytest.mark.parametrize(
    ("met", "words"),
    [
        (["on_the_move"] * 3, "Player B faced 3 strokes, all met on the move: there is no stance"),
        (["on_the_move"], "Player B faced 1 stroke, all met on the move"),
        (["on_the_move", "not_seen"], "1 met on the move, 1 not seen well enough to tell"),
    ],
)
def test_who_was_never_set_is_told_how_the_strokes_were_met(met: list[Met], words: str) -> None:
    strokes = tuple(StrokeFaced(2.0 + k, 0.02, ("seen",), False, m) for k, m in enumerate(met))
    (notice,) = player_notices(B, replace(measured(1.0), strokes_faced=strokes))
    assert notice.code == "never_set" and words in notice.text
    assert ("Film" in notice.text) == ("not_seen" in met)
    assert "never waits" not in notice.text


def test_a_found_court_is_told_with_its_error_and_one_that_is_not_with_the_reason() -> None:
    court = CalibratedCourt(behind_camera(), 1.26, "found")
    found = court_search_notice("my clip.mp4", FoundCourt(court=court, confidence=0.93, reason=""))
    assert found.code == "court_found" and "1.3 pixels" in found.text
    assert "stance court 'my clip.mp4', then run again: stance analyse" in found.text
    missing = court_search_notice(
        "a.mp4", FoundCourt(court=None, confidence=0.0, reason="No lines were seen.")
    )
    assert missing.code == "court_assumed" and "No lines were seen." in missing.text
    assert all(place in missing.text for place in ("--filmed-from", *FILMED_FROM))


@pytest.mark.parametrize(("hand", "other"), [("right", "left"), ("left", "right")])
def test_who_holds_the_racket_in_the_other_hand_is_told_the_command(hand: str, other: str) -> None:
    player = replace(measured(0.6, {}), racket=RacketHand(hand, 0.6))
    (notice,) = player_notices(Who("a.mp4", "B", "Mia"), player)
    assert f"the {hand} one was taken" in notice.text
    assert notice.text.endswith(f"stance analyse a.mp4 --player B --hand {other}")


@pytest.mark.parametrize("filmed_from", FILMED_FROM)
def test_where_angles_rest_on_what_somebody_said_that_is_told(filmed_from: str) -> None:
    notice = court_search_notice(
        "my clip.mp4", FoundCourt(None, 0.0, "No lines were seen."), filmed_from
    )
    assert notice.code == "court_assumed" and "20 degrees or more" in notice.text
    assert FILMED_FROM_WORDS[filmed_from] in notice.text
    assert said_place_notices(B, measured(1.0, {}), filmed_from) == []
    unlikely = measured(1.0, {"remarks": (NET_UNKNOWN,)})
    (wrong,) = said_place_notices(B, unlikely, filmed_from)
    assert (
        wrong.code == "filmed_from_wrong"
        and "Player B" in wrong.text
        and "stance court a.mp4" in wrong.text
    )
    assert FILMED_FROM_WORDS[filmed_from] in wrong.text


def test_a_court_file_that_fits_is_not_told_of_and_one_that_does_not_is() -> None:
    assert court_file_notices("a.mp4", "agrees") == []
    (unseen,), (replaced,) = (
        court_file_notices("a.mp4", "unseen"),
        court_file_notices("a.mp4", "replaced"),
    )
    assert unseen.code == "court_file_unchecked" and "stance court a.mp4" in unseen.text
    assert replaced.code == "court_file_replaced" and "taken instead" in replaced.text


@pytest.mark.parametrize(
    ("court", "words"),
    [(None, "in the picture"), ("found", "on the found court"), ("marked", "the court file")],
)
def test_where_nobody_was_found_the_coach_is_told_where_to_look(court: str, words: str) -> None:
    summary = ClipSummary("a.mp4", "0" * 64, 60.0, 1800, 30.0, (1280, 720))
    notice = nobody_notice(summary, court)
    assert notice.code == "no_player" and words in notice.text and "a.mp4" in notice.text
