"""Every page that the tool makes, of invented results: one of each kind."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from stance.academy.page import screening_html
from stance.academy.player_page import family_html, player_html
from stance.assessment.picture_key import PictureKey
from stance.comparison.clip_reports import ClipReports
from stance.comparison.compare import compare
from stance.comparison.page import comparison_html
from stance.comparison.season import SeasonClip
from stance.comparison.season_page import season_html
from stance.reports.clip import report_html
from stance.reports.pictures import key_picture, moment_picture
from stance.results.model import Notice, PlayerResult, Result
from stance.types import ImageArray
from tests.unit.academy.invented_academy import screen_invented
from tests.unit.invented import drawn_result
from tests.unit.reports.scenes import invented_scene
from tests.unit.results.invented import invented_defender, invented_player, invented_result

EMPTY = "data:image/svg+xml,%3Csvg xmlns='http://www.w3.org/2000/svg' width='240' height='320'/%3E"


class Pictured(ClipReports):
    """Reports that have a picture of every ready position."""

    def link(self, result: Result, player: PlayerResult | None = None, number: int = 0) -> str:
        """Where a report would be."""
        return f"../kept/{result.clip.file}/report.html"

    def picture(self, result: Result, player: PlayerResult, number: int) -> str:
        """An empty picture."""
        return EMPTY


def make_pages() -> Iterator[tuple[str, str]]:
    """The name and the HTML of each page."""
    player, play = invented_player(), invented_defender()
    defender = invented_defender("B", "left")
    yield "report", report_html(invented_result(), invented_pictures(player), overlay=True)
    yield (
        "report of play",
        report_html(invented_result(play), invented_pictures(play), overlay=True),
    )
    yield "report of a pair", report_html(invented_result(player, defender), {}, overlay=False)
    yield "report of nobody", report_html(replace(invented_result(), players=()), {}, False)
    for source in ("assumed", "found"):
        yield f"report, court {source}", report_html(invented_result(source=source), {}, False)
    random = np.random.default_rng(3)
    before, after = (
        [drawn_result(random, count, 12, name) for name in ("A-1", "B-2") for _ in range(2)]
        for count in (9, 2)
    )
    yield "comparison", comparison_html(compare(before[:2], after[:2]))
    yield "comparison in pictures", comparison_html(compare(before[:2], after[:2]), Pictured())
    yield "comparison of a group", comparison_html(compare(before, after))
    clips = [SeasonClip(f"2026-0{n}-05", r, r.players[0]) for n, r in enumerate(before[:2], 1)]
    yield "season", season_html({"A-1": clips, "B-2": clips[:1]})
    screening = screen_invented(
        {
            "Mia": [(13, 14, "2026-01-05"), (12, 14, "2026-02-05")],
            "Noa": [(1, 14, "")],
            "Uma": [(0, 14, "2026-01-05"), (0, 14, "2026-02-05"), (0, 14, "2026-03-05")],
        },
        failing=["Broken."],
    )
    screening = replace(screening, warnings=(Notice("hand_unsure", "A hand was not seen."),))
    yield "screening", screening_html(screening)
    for listed in screening.players:
        yield f"player {listed.player}", player_html(listed)
    yield "player in pictures", player_html(screening.players[0], Pictured())
    yield "family in pictures", family_html(screening.players[0], Pictured())


def invented_pictures(player: PlayerResult) -> dict[PictureKey, ImageArray]:
    """A picture of each ready position and, where it has a stroke, of contact and landing."""
    pictures = {}
    for number, position in enumerate(player.ready_positions, start=1):
        image, landmarks, camera = invented_scene(position, player.hand)
        pictures[PictureKey(player.player, number)] = key_picture(
            image, landmarks, position, camera, player.hand
        )
        if number - 1 in player.stroke_of:
            shown = moment_picture(image, landmarks, player.hand)
            for moment in ("contact", "landing"):
                pictures[PictureKey(player.player, number, moment)] = shown
    for number, stroke in enumerate(player.strokes_faced, start=1):
        if stroke.met == "on_the_move":
            pictures[PictureKey(player.player, number, "stroke")] = shown
    return pictures
