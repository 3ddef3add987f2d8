"""Charts of comparisons and screenings: marks and whiskers lie where the numbers say."""

import xml.etree.ElementTree as ElementTree

import pytest

from stance.reports.charts import (
    interval_strip,
    paired_chart,
    share_chart,
    trend_chart,
)
from stance.types import CLASSES

SVG = "{http://www.w3.org/2000/svg}"


def whisker(svg):
    """Left and right end of the only horizontal bold line, and the mark's place, in percent."""
    root = ElementTree.fromstring(svg)
    lines = [
        e.attrib
        for e in root.iter(f"{SVG}line")
        if e.attrib["y1"] == e.attrib["y2"] and "stroke-width:2" in e.attrib["style"]
    ]
    marks = [e.attrib["x"] for e in root.iter(f"{SVG}svg") if "x" in e.attrib]
    return [float(v.rstrip("%")) for v in (lines[0]["x1"], lines[0]["x2"], *marks)]


@pytest.mark.parametrize("stance_class", CLASSES)
def test_a_strip_shows_share_and_interval_to_scale(stance_class):
    svg = interval_strip(stance_class, (0.5, (0.25, 0.9)), 0.25, "half")
    assert whisker(svg) == pytest.approx([25, 90, 50])


def test_what_is_unknown_has_no_mark_and_names_are_text():
    svg = share_chart("square", [("<b>", (None, (0.0, 1.0)), [])], 'a "label"')
    root = ElementTree.fromstring(svg)
    assert not [e for e in root.iter(f"{SVG}svg") if "x" in e.attrib]
    assert "<b>" in [e.text for e in root.iter(f"{SVG}text")]
    assert root.attrib["aria-label"] == 'a "label"'


def test_names_beside_a_paired_chart_do_not_overlap():
    pairs = [(f"J-{i}", 0.5, 0.4 + i / 1000, i == 3) for i in range(12)]
    root = ElementTree.fromstring(paired_chart(pairs, "pairs"))
    heights = sorted(
        float(e.attrib["y"]) for e in root.iter(f"{SVG}text") if (e.text or "").startswith("J-")
    )
    assert min(b - a for a, b in zip(heights, heights[1:], strict=False)) >= 13.9
    bold = [e for e in root.iter(f"{SVG}line") if "stroke-width:2.6" in e.attrib["style"]]
    assert len(bold) == 1


def test_a_trend_runs_from_the_first_day_to_the_last():
    days = [(0, "2026-01-01", (0.2, (0.1, 0.4))), (30, "2026-01-31", (0.6, (0.4, 0.8)))]
    root = ElementTree.fromstring(trend_chart("over_side_on", days, 0.25, "trend"))
    marks = [e for e in root.iter(f"{SVG}svg") if "x" in e.attrib]
    assert [m.attrib["x"] for m in marks] == ["14.00%", "92.00%"]
    assert float(marks[0].attrib["y"]) > float(marks[1].attrib["y"])
