"""The files of a screening."""

import json
from dataclasses import replace

import pytest

from stance.academy.csv_format import screening_csv
from stance.academy.page import screening_html
from stance.academy.player_page import page_name
from stance.academy.statement import describe_screening
from stance.academy.writing import write_screening
from stance.assessment.picture_key import PictureKey
from stance.errors import OutputError
from stance.reports.kept_pictures import picture_source
from tests.unit.academy.invented_academy import screen_invented


@pytest.fixture(scope="module")
def screening():
    return screen_invented({"S": [(13, 14, "")], "Åse": [(1, 14, "")]})


def test_pages_table_and_json_are_written(screening, tmp_path):
    write_screening(screening, tmp_path / "out")
    data = json.loads((tmp_path / "out" / "screening.json").read_text(encoding="utf-8"))
    assert data["statement"] == describe_screening(screening)
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert page == screening_html(screening)
    # Spreadsheets know UTF-8 by the byte order mark only.
    table = (tmp_path / "out" / "screening.csv").read_bytes()
    assert table.startswith(b"\xef\xbb\xbf")
    assert table.decode("utf-8-sig") == screening_csv(screening)


def test_a_player_who_is_taken_off_the_roster_leaves_no_page_behind(screening, tmp_path):
    write_screening(screening, tmp_path)
    folders = [tmp_path / "players", tmp_path / "families"]
    assert all(len(list(folder.iterdir())) == 2 for folder in folders)
    first = screening.players[0]
    write_screening(replace(screening, players=(first,)), tmp_path)
    assert all([p.name for p in folder.iterdir()] == [page_name(first)] for folder in folders)


def test_pictures_of_a_players_pages_come_from_the_kept_reports(screening, tmp_path):
    player = next(p for p in screening.players if p.player == "S")
    (clip,) = player.clips
    kept = tmp_path / "kept" / clip.key
    kept.mkdir(parents=True)
    source = picture_source(PictureKey(clip.player.player, 3), b"jpeg")
    (kept / "report.html").write_text(f'<img src="{source}">')
    write_screening(screening, tmp_path)
    for folder, links in (("players", 1), ("families", 0)):
        page = (tmp_path / folder / page_name(player)).read_text(encoding="utf-8")
        assert page.count(f'<img src="{source}"') == 1
        assert page.count(f"../kept/{clip.key}/report.html#player-1-3") == links


def test_a_folder_that_cannot_be_made_is_told(screening, tmp_path):
    (tmp_path / "taken").write_text("a file")
    with pytest.raises(OutputError, match="taken"):
        write_screening(screening, tmp_path / "taken")
