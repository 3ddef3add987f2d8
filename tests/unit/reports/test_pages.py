"""Pages and charts from templates: text is escaped, what is missing is an error."""

import pytest
from jinja2 import UndefinedError

from stance.reports.clip import report_html
from stance.reports.pages import chart, page
from stance.reports.time_line import time_line
from tests.unit.results.invented import invented_result


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
    result = invented_result()
    line = time_line(result.players[0], result.clip.duration_s, "player-1")
    assert line.startswith("<svg") and line in report_html(result, {}, overlay=False)


def test_a_page_that_lacks_what_it_shows_is_an_error():
    with pytest.raises(UndefinedError):
        page("player.html", title="J-07")
