"""A roster is checked whole before any work, and every mistake is told with its line."""

import json
import os

import pytest

from stance.academy.jobs import Job
from stance.academy.roster import read_roster
from stance.errors import InputError
from tests.paths import DATA


@pytest.fixture
def folder(tmp_path):
    """A folder with two clips (their content does not matter here) and a court file."""
    for name in ("a.mp4", "b.mp4"):
        (tmp_path / name).write_bytes(b"x")
    (tmp_path / "court.json").write_text((DATA / "rear_corner_drill.court.json").read_text())
    return tmp_path


def roster(folder, text, encoding="utf-8"):
    file = folder / "roster.csv"
    file.write_bytes(text.encode(encoding))
    return file


def test_columns_are_found_in_any_order_and_spelling(folder):
    read = read_roster(
        roster(
            folder,
            (
                "Clip;Player;Age group;Court;Hand;date;Session;Coach\n"
                "a.mp4;J-07;U13;court.json;Left;2026-03-14;week 3;Kim\n"
                "\n"
                "b.mp4;Åse Ødegård;;;;;;\n"
            ),
            "utf-8-sig",
        )
    )
    assert [r.line for r in read.rows] == [2, 4] and read.unknown_columns == ("coach",)
    first, second = read.rows
    court = str(folder / "court.json")
    assert first.job == Job(str(folder / "a.mp4"), court, "left", blur_faces=True)
    assert (first.age_group, first.date, first.session) == ("U13", "2026-03-14", "week 3")
    assert second.player == "Åse Ødegård" and second.job == Job(
        str(folder / "b.mp4"), blur_faces=True
    )


def test_where_the_phone_stood_goes_to_the_analysis(folder):
    text = "player,clip,filmed from\nJ,a.mp4,Rear-Left\nK,b.mp4,\n"
    first, second = read_roster(roster(folder, text)).rows
    assert first.job.filmed_from == "rear-left" and second.job.filmed_from is None
    with pytest.raises(InputError, match="'above'; write behind, rear-left"):
        read_roster(roster(folder, "player,clip,filmed_from\nJ,a.mp4,above\n"))


def test_dates_are_read_as_a_spreadsheet_writes_them(folder):
    text = "player,clip,date\nJ,a.mp4,03/04/2026\nJ,b.mp4,3/14/2026\n"
    assert [row.date for row in read_roster(roster(folder, text)).rows] == [
        "2026-03-04",
        "2026-03-14",
    ]
    with pytest.raises(InputError, match="line 2: the date '03/04/2026' may be"):
        read_roster(roster(folder, text.replace("3/14/2026", "14.03.2026")))


def test_urls_are_taken_as_they_are(folder):
    rows = read_roster(roster(folder, "player,clip\nJ,https://club.example/a.mp4\n")).rows
    assert rows[0].job.clip == "https://club.example/a.mp4"


def test_all_mistakes_are_told_at_once_with_their_lines(folder):
    (folder / "bad.json").write_text(json.dumps({"schema": "x"}))
    file = roster(
        folder,
        (
            "player,clip,court,hand,date,letter\n"
            "J-1,a.mp4,court.json,right,2026-03-14,A\n"
            ",a.mp4,,,,\n"
            "J-2,,,,,\n"
            "J-3,missing.mp4,none.json,both,14.13.2026,\n"
            '"J-\n4",b.mp4,bad.json,,,12\n'
            "J-1,b.mp4,,left,,\n"
            "J-5,a.mp4,,,,\n"
            "J-1,a.mp4,,,,\n"
            "J-6,a.mp4,,,,,,,one,two\n"
        ),
    )
    with pytest.raises(InputError) as problem:
        read_roster(file)
    lines = str(problem.value).splitlines()
    assert lines[0].endswith("has 13 mistakes; nothing was analysed:")
    starts = [line.strip().split(":")[0] for line in lines[1:-1]]
    assert starts == [
        "line 3",
        "line 4",
        *["line 5"] * 4,
        *["line 6"] * 2,
        *["line 8"] * 2,
        "line 9",
        "line 10",
        "line 11",
    ]
    for words in (
        "no player is named",
        "no clip is named",
        "there is no clip",
        "no court file",
        "'both'",
        "year-month-day",
        "stance-court/1",
        "right-handed in line 2",
        "who is who",
        "already",
        "more cells",
    ):
        assert words in str(problem.value)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"),
        ("name,clip\nJ,a.mp4\n", "no column player"),
        ("player,clip\n", "no player is listed"),
        ("player,clip,clip\nJ,a.mp4,b.mp4\n", "twice"),
        ('player,clip\n"J,a.mp4\n', "double quotes"),
    ],
)
def test_what_is_no_roster_is_refused(folder, text, words):
    with pytest.raises(InputError, match=words):
        read_roster(roster(folder, text))


def test_a_name_may_hold_what_ends_a_line_elsewhere(folder):
    rows = read_roster(roster(folder, "player,clip\nJ\u2028one,a.mp4\nK\x0c,b.mp4\n")).rows
    assert [(row.line, row.player) for row in rows] == [(2, "J one"), (3, "K")]


def test_letters_composed_or_not_are_one_player(folder):
    rows = read_roster(roster(folder, "player,clip\nZo\u0308e,a.mp4\nZ\u00f6e,b.mp4\n")).rows
    assert {row.player for row in rows} == {"Z\u00f6e"}


def test_a_player_written_in_two_ways_is_told(folder):
    text = "player,clip\nJ-07,a.mp4\nj-07,b.mp4\n"
    with pytest.raises(InputError, match="line 3: j-07 is written J-07 in line 2"):
        read_roster(roster(folder, text))


def test_names_longer_than_any_are_told(folder):
    text = f"player,clip\n{'J' * 101},a.mp4\nK,{'k' * 300}.mp4\nL,a\0.mp4\n"
    with pytest.raises(InputError, match="more than 100 letters.*\n.*there is no clip"):
        read_roster(roster(folder, text))


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes have names on Unix alone")
def test_pipes_and_devices_keep_nobody_waiting(folder):
    os.mkfifo(folder / "pipe")
    with pytest.raises(InputError, match="pipe or a device"):
        read_roster(folder / "pipe")
    with pytest.raises(InputError, match="there is no clip"):
        read_roster(roster(folder, "player,clip\nJ,pipe\n"))


def test_names_are_not_garbled(folder):
    with pytest.raises(InputError, match="CSV UTF-8"):
        read_roster(roster(folder, "player,clip\nÅse,a.mp4\n", "cp1252"))
    with pytest.raises(InputError, match="no roster"):
        read_roster(folder / "none.csv")


def test_two_players_of_one_clip_have_letters(folder):
    read = read_roster(roster(folder, "player,clip,letter\nJ-1,a.mp4,a\nJ-2,a.mp4,B\n"))
    assert [(r.player, r.letter) for r in read.rows] == [("J-1", "A"), ("J-2", "B")]


@pytest.mark.parametrize("letter", ["A", "B", ""])
def test_a_third_player_of_a_clip_needs_a_letter_of_their_own(folder, letter):
    file = roster(folder, f"player,clip,letter\nJ-1,a.mp4,A\nJ-2,a.mp4,B\nJ-3,a.mp4,{letter}\n")
    with pytest.raises(InputError, match="line 4: the same clip is another player's"):
        read_roster(file)


def test_the_court_file_beside_a_clip_is_taken_where_none_is_named(folder):
    (folder / "a.court.json").write_bytes((folder / "court.json").read_bytes())
    for named, taken in (("", "a.court.json"), ("court.json", "court.json")):
        lines = f"player,clip,court\nJ-1,a.mp4,{named}\nJ-2,b.mp4,\n"
        first, second = read_roster(roster(folder, lines)).rows
        assert first.job.court == str(folder / taken) and second.job.court is None
    lines = "player,clip\nJ-1,a.mp4\n"
    (folder / "a.court.json").write_text("{}")
    with pytest.raises(InputError, match=r"a\.court\.json"):
        read_roster(roster(folder, lines))


def test_a_court_file_with_a_byte_order_mark_is_taken(folder):
    court = (folder / "court.json").read_bytes()
    (folder / "court.json").write_bytes(b"\xef\xbb\xbf" + court)
    read = read_roster(roster(folder, "player,clip,court\nJ-1,a.mp4,court.json\n"))
    assert read.rows[0].job.court == str(folder / "court.json")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"image_size": None}, "image_size"),
        ({"image_size": [1280]}, "image_size"),
        ({"points": [{"court": [0, -3], "pixel": [2000, 5]}] * 4}, "picture is 1280 x 720"),
    ],
)
def test_a_court_file_is_checked_against_the_size_that_it_states(folder, change, words):
    court = json.loads((folder / "court.json").read_text()) | change
    (folder / "court.json").write_text(json.dumps(court))
    with pytest.raises(InputError) as problem:
        read_roster(roster(folder, "player,clip,court\nJ-1,a.mp4,court.json\n"))
    assert words in str(problem.value) and "court.json" in str(problem.value)
    assert "0 x 0" not in str(problem.value) and "[0, 0]" not in str(problem.value)


def test_of_very_many_mistakes_the_first_are_told(folder):
    lines = "".join(f"J-{n},missing_{n}.mp4\n" for n in range(45))
    with pytest.raises(InputError) as problem:
        read_roster(roster(folder, f"player,clip\n{lines}"))
    assert "has 45 mistakes" in str(problem.value) and "and 5 more" in str(problem.value)
    assert "missing_39" in str(problem.value) and "missing_40" not in str(problem.value)
