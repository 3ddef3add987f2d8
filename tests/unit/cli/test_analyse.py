"""`stance analyse`: what is wrong use, and what is printed."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from stance.assessment.advice import advise
from stance.assessment.analysis_model import Analysis
from stance.assessment.tendencies import tendencies_of_clip
from stance.cli.app import app
from stance.errors import InputError
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
        (("x/a.mp4", "y/A.mp4"), "would go to the same folder"),
        (("a.mp4", "a.mp4", "--out", "reports"), "would go to the same folder"),
    ],
)
def test_wrong_use_is_exit_code_2_and_told(arguments, words, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(app, ["analyse", *arguments])
    assert done.exit_code == 2
    assert words in " ".join(done.stderr.replace("│", " ").split())
    assert list(tmp_path.iterdir()) == []


def measure_as(players, monkeypatch):
    """Let each clip be measured as the player of its name; the calls that were made."""
    calls = []

    def measure(clip, court, *_):
        calls.append((clip.name, court and court.name))
        if clip.name not in players:
            raise InputError(f"{clip.name} is not a video.")
        return Analysis(invented_result(players[clip.name]), {}, {}, "", None, None)

    monkeypatch.setattr("stance.analysis.analyse", measure)
    monkeypatch.setattr("stance.reports.writing.write_analysis", lambda *_, **__: None)
    return calls


def run_of(player, tmp_path, monkeypatch):
    """The command's run on a clip in which this player was measured."""
    measure_as({"a.mp4": player}, monkeypatch)
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
        "31° in front  52° in front  over-side-on ",
        "8° back       4° back  square; serve ",
        "racket foot in front: 4 of 6, 67 % (likely range 25 to 92 %)",
    ):
        assert words in text
    assert "10 strokes faced: 7 met set" in text
    # What to do comes last, as the report has it first.
    player = invented_defender()
    advice = advise(tendencies_of_clip(invented_result(player), player))
    assert " ".join(advice.sentences) in " ".join(text.split())


def test_what_is_not_known_is_printed_so(tmp_path, monkeypatch):
    nothing = dict.fromkeys(CLASSES, float("nan"))
    position = replace(UNKNOWN, probabilities=nothing, remarks=(NET_UNKNOWN,))
    player = replace(
        invented_player(), ready_positions=(position,), shares=class_shares([position])
    )
    text = printed_of(player, tmp_path, monkeypatch)
    assert "not known" in text and "nan" not in text
    assert f"not assessed; {NET_UNKNOWN}" in " ".join(text.split())


def test_where_no_stroke_could_be_told_the_waits_are_printed(tmp_path, monkeypatch):
    text = printed_of(invented_player(), tmp_path, monkeypatch)
    assert "No stroke of the other side could be told, so each wait" in text
    assert "met on the move" not in text and "52° back      47° back  over-side-on" in text
    assert "over 99 %" in text and "100 %" not in text


NOT_SEEN = replace(
    invented_player(),
    ready_positions=(),
    shares=class_shares([]),
    strokes_faced=(StrokeFaced(2.0, 0.02, ("seen",), False, "not_seen"),),
)


def test_of_several_clips_one_that_fails_stops_none_and_the_summary_tells(monkeypatch):
    measure_as({"a.mp4": invented_defender(), "c.mp4": NOT_SEEN}, monkeypatch)
    done = CliRunner().invoke(app, ["analyse", "a.mp4", "x/b.mp4", "c.mp4", "--out", "reports"])
    assert done.exit_code == 3
    assert done.stderr.count("b.mp4 is not a video.") == 1
    a, c = (Path("reports", f"{name}_stance", "report.html") for name in "ac")
    assert done.stdout.endswith(
        "\n1 of 3 clips measured:\n"
        f"  a.mp4: {a}\n"
        f"  {Path('x/b.mp4')}: b.mp4 is not a video.\n"
        f"  c.mp4: nothing to assess; {c} says why\n"
    )
    assert done.stdout.index("c.mp4 (3 of 3)") > done.stdout.index("10 strokes faced: 7 met set")


@pytest.mark.parametrize(
    ("clips", "code"), [(("a.mp4", "b.mp4"), 0), (("c.mp4", "a.mp4"), 4), (("c.mp4", "d.mp4"), 3)]
)
def test_the_exit_code_of_several_clips_is_that_of_the_worst(clips, code, monkeypatch):
    players = {"a.mp4": invented_player(), "b.mp4": invented_player(), "c.mp4": NOT_SEEN}
    measure_as(players, monkeypatch)
    assert CliRunner().invoke(app, ["analyse", *clips]).exit_code == code


def test_json_of_several_clips_is_a_line_each_and_nothing_else(monkeypatch):
    measure_as({"a.mp4": invented_player(), "b.mp4": invented_defender()}, monkeypatch)
    done = CliRunner().invoke(app, ["analyse", "a.mp4", "none.mp4", "b.mp4", "--json"])
    first, second = map(json.loads, done.stdout.splitlines())
    assert not first["players"][0]["strokes_faced"] and second["players"][0]["strokes_faced"]
    assert "2 of 3 clips measured:" in done.stderr


def test_the_court_file_beside_a_clip_is_taken_and_told_unless_one_is_named(tmp_path, monkeypatch):
    calls = measure_as({"a.mp4": invented_player(), "b.mp4": invented_player()}, monkeypatch)
    (tmp_path / "a.court.json").write_text("{}")
    clips = [str(tmp_path / "a.mp4"), str(tmp_path / "b.mp4")]
    told = CliRunner().invoke(app, ["analyse", *clips]).stderr
    assert told.count("a.court.json, which lies beside the clip.") == 1
    named = CliRunner().invoke(app, ["analyse", *clips, "--court", "hall.court.json"])
    assert "beside the clip" not in named.stderr
    assert calls == [
        ("a.mp4", "a.court.json"),
        ("b.mp4", None),
        ("a.mp4", "hall.court.json"),
        ("b.mp4", "hall.court.json"),
    ]
