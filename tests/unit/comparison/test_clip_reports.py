"""Reports of clips: links and pictures."""

from stance.assessment.picture_key import PictureKey
from stance.comparison.clip_reports import NO_REPORTS, ClipReports
from stance.reports.kept_pictures import picture_source
from tests.unit.results.invented import invented_player, invented_result


def test_links_are_relative_and_quoted_and_pictures_come_from_the_report(tmp_path):
    first, second = invented_player("A"), invented_player("B")
    result = invented_result(first, second)
    folder = tmp_path / "kept" / "50 % a#b"
    folder.mkdir(parents=True)
    reports = ClipReports({result.clip.sha256: folder}, tmp_path / "pages")
    assert reports.link(result) == "" and reports.picture(result, first, 1) == ""
    source = picture_source(PictureKey("B", 2), b"jpeg")
    (folder / "report.html").write_text(f'<img src="{source}">')
    assert reports.link(result) == "../kept/50%20%25%20a%23b/report.html"
    assert reports.link(result, second, 2).endswith("report.html#player-2-2")
    assert reports.picture(result, second, 2) == source
    assert reports.picture(result, first, 2) == ""


def test_a_clip_without_a_report_has_neither():
    result = invented_result(invented_player())
    assert NO_REPORTS.link(result) == ""
    assert NO_REPORTS.picture(result, result.players[0], 1) == ""
