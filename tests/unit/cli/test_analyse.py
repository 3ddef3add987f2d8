"""`stance analyse`: what is wrong use, and what is printed."""

from dataclasses import replace

import pytest
from typer.testing import CliRunner

from stance.assessment.analysis_model import Analysis
from stance.cli.app import app
from stance.results.model import StrokeFaced
from stance.statistics.shares import class_shares
from stance.types import CLASSES, NET_UNKNOWN
from tests.unit.results.invented import (
    UNKNOWN,
    invented_defender,
    invented_player,
    invented_result,
)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "Missing argument"),
        (("a.mp4", "--hand", "both"), "--hand"),
        (("a.mp4", "--half", "left"), "--half"),
        (("a.mp4", "--player", "E"), "--player"),
        (("a.mp4", "--filmed-from", "above"), "--filmed-from"),
        (("a.mp4", "--date", "14.3."), "year-month-day"),
        (("a.mp4", "--name", "E=Mia"), "NAME or LETTER=NAME"),
        (("a.mp4", "--name", "A= "), "NAME or LETTER=NAME"),
    ],
)
def test_wrong_use_is_exit_code_2_and_told(arguments, words, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(app, ["analyse", *arguments])
    assert done.exit_code == 2
    assert words in " ".join(done.stderr.replace("│", " ").split())
    assert list(tmp_path.iterdir()) == []


def run_of(player, tmp_path, monkeypatch):
    """The command's run on a clip in which this player was measured."""
    analysis = Analysis(invented_result(player), {}, {}, "", None, None)
    monkeypatch.setattr("stance.analysis.analyse", lambda *_, **__: analysis)
    monkeypatch.setattr("stance.reports.writing.write_analysis", lambda *_, **__: None)
    monkeypatch.setenv("COLUMNS", "160")
    return CliRunner().invoke(app, ["analyse", "a.mp4", "--out", str(tmp_path)])


def printed_of(player, tmp_path, monkeypatch):
    """What the command prints of a clip in which this player was measured."""
    done = run_of(player, tmp_path, monkeypatch)
    assert done.exit_code == 0, done.output
    return done.stdout


@pytest.mark.parametrize(("met", "code"), [("on_the_move", 0), ("not_seen", 4)])
def test_strokes_met_on_the_move_are_a_result_unlike_those_not_seen(
    met, code, tmp_path, monkeypatch
):
    strokes = tuple(StrokeFaced(time_s, 0.02, ("seen",), False, met) for time_s in (2.0, 4.0))
    player = replace(
        invented_player(),
        ready_positions=(),
        shares=class_shares([]),
        strokes_faced=strokes,
    )
    assert run_of(player, tmp_path, monkeypatch).exit_code == code


def test_strokes_are_printed_as_they_were_met_and_serves_apart(tmp_path, monkeypatch):
    text = printed_of(invented_defender(), tmp_path, monkeypatch)
    for words in (
        "met set: 7 of 10\n",
        "met on the move: 2 of 10\n",
        "not seen well enough: 1 of 10\n",
        "serves faced, not counted: 2\n",
        "over-side-on, racket side leading; racket foot leading",
        "square; serve",
        "racket foot leading: 4 of 6, 67% (95 % interval",
    ):
        assert words in text
    assert "10 strokes faced: 7 met set" in text


def test_what_is_not_known_is_printed_so(tmp_path, monkeypatch):
    nothing = dict.fromkeys(CLASSES, float("nan"))
    position = replace(UNKNOWN, probabilities=nothing, remarks=(NET_UNKNOWN,))
    player = replace(
        invented_player(), ready_positions=(position,), shares=class_shares([position])
    )
    text = printed_of(player, tmp_path, monkeypatch)
    assert "not known" in text and "nan" not in text
    assert f"not assessed; {NET_UNKNOWN}" in text


def test_where_no_stroke_could_be_told_the_waits_are_printed(tmp_path, monkeypatch):
    text = printed_of(invented_player(), tmp_path, monkeypatch)
    assert "No stroke of the other side could be told, so each wait" in text
    assert "met on the move" not in text and "over-side-on, racket side back" in text
