"""The text of a page, for tests of comparisons and screenings."""

import re

from tests.unit.reports.test_clip import Walk


def read_page(html):
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
