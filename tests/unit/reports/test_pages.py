"""Pages and charts from templates: text is escaped, what is missing is an error."""

import pytest
from jinja2 import UndefinedError

from stance.reports.pages import chart, counted, page


def test_one_thing_is_counted_without_an_s():
    assert [counted(n, "clip") for n in (0, 1, 2)] == ["0 clips", "1 clip", "2 clips"]


def test_text_in_a_chart_is_escaped_and_the_chart_itself_is_not_escaped_again():
    strip = chart(
        "strip.svg",
        **{"class": "square"},
        label='<b> & "more"',
        limit=25.0,
        mark={"low": 10.0, "middle": None, "high": 90.0},
    )
    assert strip.startswith("<svg") and strip.endswith("</svg>")
    assert 'aria-label="&lt;b&gt; &amp; &#34;more&#34;"' in strip
    assert f"{strip}" in page("player.html", **player(charts=strip))


def test_a_page_that_lacks_what_it_shows_is_an_error():
    with pytest.raises(UndefinedError):
        page("player.html", title="J-07")


def player(charts):
    """What a player's page shows, with one chart."""
    return {
        "title": "J-07",
        "name": "J-07",
        "about": "",
        "statement": "",
        "flag": "watch",
        "flag_name": "watch",
        "shares": [{"name": "square", "words": "", "sides": "", "chart": charts}],
        "met": "",
        "measures": [],
        "not_assessed": 0,
        "trend_chart": None,
        "trend": "",
        "clips": [],
    }
