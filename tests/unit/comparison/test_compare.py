"""Before and after: the numbers, the words, and what they must not claim."""

import json
import re
from dataclasses import replace

import numpy as np
import pytest

from stance.comparison.changes import WORTH_TELLING
from stance.comparison.compare import compare
from stance.comparison.page import comparison_html, to_json, write_comparison
from stance.errors import InputError
from stance.results.model import Filming
from stance.statistics.inference import newcombe_interval
from stance.statistics.shares import wilson_interval
from stance.types import CLASSES
from tests.evaluation.coverage import held
from tests.unit.invented import drawn_result
from tests.unit.reports.test_clip import Walk


def sets(before, after, clips=3, size=12, certain=True, seed=0, **after_fields):
    """Two sets of clips with so many over-side-on of `size` positions in each."""
    random = np.random.default_rng(seed)
    return (
        [drawn_result(random, before, size, "J-07", certain=certain) for _ in range(clips)],
        [
            drawn_result(random, after, size, "J-07", certain=certain, **after_fields)
            for _ in range(clips)
        ],
    )


def text_of(html):
    """What a reader sees, after the page was found whole and self-contained."""
    walker = Walk()
    walker.feed(html)
    assert walker.open == [] and len(set(walker.ids)) == len(walker.ids)
    assert not re.search(
        r"https?:|@import|<script|<link|<img",
        html.replace('xmlns="http://www.w3.org/2000/svg"', ""),
    )
    assert not re.search(r"\bnan\b|\binf\b|\bNone\b", html)
    return " ".join(" ".join(walker.text).split())


def test_a_large_change_is_told_with_its_interval():
    comparison = compare(*sets(9, 1))
    change = comparison.whole.classes["over_side_on"]
    assert (change.before.count, change.before.assessed) == (27, 36)
    assert (change.after.count, change.after.assessed) == (3, 36)
    assert change.difference == pytest.approx(3 / 36 - 27 / 36)
    assert change.verdict == "down" and change.interval[1] < 0
    # Positions of one clip resemble each other: never narrower than Newcombe's on bare counts.
    bare = newcombe_interval(3 / 36, wilson_interval(3, 36), 27 / 36, wilson_interval(27, 36))
    assert change.interval[0] <= bare[0] + 1e-6 and change.interval[1] >= bare[1] - 1e-6
    least, most = (abs(round(100 * end)) for end in sorted(change.interval, key=abs))
    assert comparison.whole.statement.startswith(
        "27 of 36 assessed ready positions were over-side-on before, 3 of 36 after: the share of "
        f"over-side-on fell by {least} to {most} points (95 % interval)."
    )
    hips = comparison.whole.measures["hip_yaw_deg"]
    assert hips.difference > 20 and hips.interval[0] > 0
    assert "The racket hip came" in comparison.whole.statement
    assert "further forward" in comparison.whole.statement


def test_a_single_clip_in_a_set_is_called_too_few_clips_even_where_a_change_shows():
    comparison = compare(*sets(15, 0, clips=1, size=15))
    assert comparison.whole.classes["over_side_on"].verdict == "down"
    assert "too few clips to tell how much days differ" in comparison.whole.statement
    assert "one_clip" in {w.code for w in comparison.whole.warnings}
    assert "too few clips" not in compare(*sets(9, 1)).whole.statement


def test_too_few_says_so_and_how_many_more_would_do():
    change = compare(*sets(3, 1, clips=1, size=6)).whole
    share = change.classes["over_side_on"]
    assert share.verdict == "too_few" and share.interval[0] <= 0 <= share.interval[1]
    assert "too few ready positions to tell" in change.statement
    assert f"About {share.more_needed} more in each set would tell" in change.statement
    assert "fell" not in change.statement and "one_clip" in [w.code for w in change.warnings]
    # With that many more of the same kind it does tell.
    clips = 1 + round(share.more_needed / 6)
    assert compare(*sets(3, 1, clips=clips, size=6)).whole.classes["over_side_on"].verdict == "down"


def test_no_change_is_said_only_where_a_large_one_is_ruled_out():
    steady = compare(*sets(2, 2, clips=9, size=15)).whole
    share = steady.classes["over_side_on"]
    assert share.verdict == "steady"
    assert max(abs(end) for end in share.interval) < WORTH_TELLING
    assert "20 points or more is ruled out" in steady.statement
    assert compare(*sets(4, 4, clips=2)).whole.classes["over_side_on"].verdict == "too_few"


def test_many_clips_are_resampled_and_agree_with_the_score_interval():
    random = np.random.default_rng(1)
    parts = [
        [
            drawn_result(random, int(random.integers(*span)), 12, "J", certain=True)
            for _ in range(12)
        ]
        for span in ((6, 11), (2, 6))
    ]
    many = compare(*parts).whole.classes["over_side_on"]
    assert many.method == "bootstrap" and many.verdict == "down"
    few = compare(parts[0][:9], parts[1][:9]).whole.classes["over_side_on"]
    assert few.method == "score"
    assert many.interval == pytest.approx(few.interval, abs=0.12)


def test_doubtful_classes_widen_the_interval_less_in_the_same_view():
    same = compare(*sets(8, 3, certain=False)).whole
    other = compare(*sets(8, 3, certain=False, filming=Filming("behind", 2.0, 7.0))).whole
    for pick in (lambda c: c.classes["over_side_on"], lambda c: c.measures["hip_yaw_deg"]):
        widths = [np.diff(pick(c).interval)[0] for c in (same, other)]
        assert widths[1] > widths[0] + 1e-6


def test_filming_that_differs_is_named():
    before, after = sets(9, 1)
    after = [
        replace(r, filming=Filming("behind", 3.2, 7.0), court=replace(r.court, source="assumed"))
        for r in after
    ]
    whole = compare(before, after).whole
    assert [w.code for w in whole.warnings] == ["filming_view", "filming_height", "filming_court"]
    assert "filmed differently, which may be part of it" in whole.statement
    assert "corner before and from behind after" in whole.warnings[0].text


def test_a_group_is_compared_within_its_players():
    # Simpson's paradox: each player improves, but the one who is side-on more often was filmed
    # more after the block, so the pooled shares rise.
    random = np.random.default_rng(3)
    before = [drawn_result(random, 2, 10, "A-1", certain=True) for _ in range(6)]
    before += [drawn_result(random, 9, 10, "B-2", certain=True)]
    after = [drawn_result(random, 0, 10, "A-1", certain=True)]
    after += [drawn_result(random, 7, 10, "B-2", certain=True) for _ in range(6)]
    comparison = compare(before, after)
    whole = comparison.whole.classes["over_side_on"]
    assert whole.after.share > whole.before.share and whole.difference < 0
    assert [c.player for c in comparison.players] == ["A-1", "B-2"]
    assert 0 < whole.p_value < 1
    assert "on the average player" in comparison.whole.statement or whole.verdict == "too_few"
    text = text_of(comparison_html(comparison))
    assert "Each player's share of over-side-on" in text and "A-1" in text
    only = compare(before, after, player="B-2")
    assert len(only.players) == 1 and only.whole.player == "B-2"


def test_ten_players_are_resampled():
    random = np.random.default_rng(4)
    names = [f"J-{i:02d}" for i in range(12)]
    before = [drawn_result(random, int(random.integers(5, 10)), 12, n, certain=True) for n in names]
    after = [drawn_result(random, int(random.integers(1, 5)), 12, n, certain=True) for n in names]
    whole = compare(before, after).whole
    assert whole.classes["over_side_on"].method == "bootstrap"
    assert whole.classes["over_side_on"].verdict == "down"
    assert "on the average player" in whole.statement


def test_a_racket_hand_that_was_not_seen_for_sure_is_told():
    before, after = sets(9, 1)
    guessed = replace(after[0], players=(replace(after[0].players[0], hand_confidence=0.9),))
    assert compare(before, after).warnings == ()
    (notice,) = compare(before, [guessed, *after[1:]]).warnings
    assert notice.code == "hand_unsure" and guessed.clip.file in notice.text


def test_players_are_matched_by_name_and_never_silently_otherwise():
    before, after = sets(9, 1)
    nameless = [replace(r, players=tuple(replace(p, name="") for p in r.players)) for r in after]
    assert [w.code for w in compare(before, nameless).warnings] == ["nameless"]
    other = [replace(r, players=tuple(replace(p, name="J-08") for p in r.players)) for r in after]
    with pytest.raises(InputError, match="No player is in both sets"):
        compare(before, other)
    with pytest.raises(InputError, match="same clip is in both"):
        compare(before, before[:1])
    with pytest.raises(InputError, match="None of the clips after shows"):
        compare(before, [replace(r, players=()) for r in after])
    twice = compare([*before, before[0]], after)
    assert [w.code for w in twice.warnings] == ["same_clip"]
    assert twice.whole.classes["over_side_on"].before.assessed == 36


def test_with_nothing_assessed_nothing_is_claimed(tmp_path):
    before, after = sets(9, 1)
    lost = [
        replace(r, players=tuple(replace(p, ready_positions=()) for p in r.players)) for r in after
    ]
    comparison = compare(before, lost)
    assert comparison.whole.statement == (
        "Too few ready positions to tell: none could be assessed after."
    )
    data = to_json(comparison)
    over = data["classes"]["over_side_on"]
    assert over["difference"] is None and over["after"]["share"] is None
    assert data["measures"]["hip_yaw_deg"]["difference"] is None
    text_of(comparison_html(comparison))


def test_the_file_has_the_fields_of_the_schema(tmp_path):
    write_comparison(compare(*sets(9, 1)), tmp_path / "out")
    data = json.loads((tmp_path / "out" / "comparison.json").read_text())
    assert data["schema"] == "stance-comparison/1"
    assert set(data["classes"]) == set(CLASSES)
    for change in data["classes"].values():
        assert set(change) >= {"before", "after", "difference", "interval"}
        for side in ("before", "after"):
            assert set(change[side]) >= {"count", "assessed", "share", "interval"}
    lead = data["measures"]["lead_angle_deg"]
    assert isinstance(lead["before"], float) and isinstance(lead["after"], float)
    assert lead["interval"][0] <= lead["difference"] <= lead["interval"][1]
    assert data["statement"] and data["warnings"] == []
    text = text_of((tmp_path / "out" / "report.html").read_text())
    for words in (
        "27 of 36, 75 %",
        "less often after",
        "The coach decides",
        "consent of a parent or guardian",
        "safeguarding",
        "no medical advice",
    ):
        assert words in text


def test_intervals_hold_the_truth_as_often_as_they_say():
    # A small version of `python -m tests.evaluation.coverage`: 0.93 to 0.97 in the long run; 120 draws have
    # a standard deviation of 0.02.
    random = np.random.default_rng(11)
    cells = [
        held(random, clips, correlation, 40, certain)
        for clips, correlation, certain in ((3, 0.1, True), (5, 0.1, False), (12, 0.1, True))
    ]
    share, hips, bare = np.mean(cells, axis=0)
    assert 0.90 <= share <= 1.0 and 0.88 <= hips <= 1.0
    assert bare < share - 0.03
