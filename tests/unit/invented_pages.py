"""Every page that the tool makes, of invented results: one of each kind."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from stance.academy.jobs import Job, Outcome
from stance.academy.model import Screening
from stance.academy.page import screening_html
from stance.academy.player_page import family_html, player_html
from stance.academy.roster import Row
from stance.assessment.picture_key import PictureKey
from stance.comparison.clip_reports import ClipReports
from stance.comparison.compare import compare
from stance.comparison.page import comparison_html
from stance.comparison.season import SeasonClip
from stance.comparison.season_page import season_html
from stance.reports.clip import report_html
from stance.reports.kept_pictures import picture_source
from stance.reports.pictures import jpeg, key_picture, moment_picture
from stance.results.model import Notice, PlayerResult, Result
from stance.types import ImageArray
from tests.unit.academy.invented_academy import screen_rows
from tests.unit.invented import drawn_result
from tests.unit.reports.scenes import invented_scene
from tests.unit.results.invented import invented_defender, invented_player, invented_result


class Pictured(ClipReports):
    """Reports that have a picture of every ready position."""

    def link(self, result: Result, player: PlayerResult | None = None, number: int = 0) -> str:
        """Where a report would be."""
        return f"../kept/{result.clip.file}/report.html"

    def picture(self, result: Result, player: PlayerResult, number: int) -> str:
        """A drawing of the ready position."""
        position = player.ready_positions[number - 1]
        image, landmarks, camera = invented_scene(position, player.hand)
        picture = key_picture(image, landmarks, position, camera, player.hand)
        return picture_source(None, jpeg(picture, 30_000))


def make_pages() -> Iterator[tuple[str, str]]:
    """The name and the HTML of each page."""
    player, play = invented_player(), invented_defender()
    defender = invented_defender("B", "left")
    yield "report", report_html(invented_result(), invented_pictures(player), overlay=True)
    yield (
        "report of play",
        report_html(invented_result(play), invented_pictures(play), overlay=True),
    )
    both = invented_pictures(player) | invented_pictures(defender)
    yield "report of a pair", report_html(invented_result(player, defender), both, overlay=False)
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
    screening = screen_six()
    yield "screening", screening_html(screening)
    for listed in screening.players:
        yield f"player {listed.player}", player_html(listed, Pictured())
    yield "player without pictures", player_html(screening.players[0])
    for listed in (screening.players[0], screening.players[-1]):
        yield f"family of {listed.player}", family_html(listed, Pictured())


def screen_six() -> Screening:
    """Six players: a habit, one to watch, none, too few, and a pair with a left-hander."""
    random = np.random.default_rng(4)
    alone = {
        "Mia": ((13, 14, "2026-01-05"), (12, 14, "2026-02-05")),
        "Leo": ((5, 14, "2026-01-05"), (6, 14, "2026-02-05")),
        "Noa": ((1, 5, ""),),
        "Uma": ((0, 14, "2026-01-05"), (0, 14, "2026-02-05"), (0, 14, "2026-03-05")),
    }
    clips = [
        (name, drawn_result(random, side_on, count, feet_too=True), date)
        for name, drawn in alone.items()
        for side_on, count, date in drawn
    ]
    rows, outcomes = [], {}
    for name, result, date in clips:
        job = Job(result.clip.file, blur_faces=True)
        rows.append(Row(len(rows) + 2, name, job, "U11" if name < "M" else "U13", date))
        outcomes[job] = Outcome(job, result.clip.sha256[32:], result)
    pair = invented_result(invented_defender("A"), invented_defender("B", "left"))
    for name, letter, hand in (("Ida", "A", "right"), ("Bo", "B", "left")):
        job = Job("pair.mp4", hand=hand, blur_faces=True)
        rows.append(Row(len(rows) + 2, name, job, "U13", "2026-02-05", letter=letter))
        outcomes[job] = Outcome(job, f"pair-{hand}", pair)
    broken = Job("broken.mp4")
    rows.append(Row(len(rows) + 2, "Uma", broken, "U13"))
    outcomes[broken] = Outcome(broken, reason="Broken.")
    screening = screen_rows(rows, outcomes)
    return replace(screening, warnings=(Notice("hand_unsure", "A hand was not seen."),))


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
