"""What a page of a report holds: its text, its tags, ids and links."""

import re
from html.parser import HTMLParser

VOID = {"meta", "img", "br", "hr", "link", "input"}


class PageWalker(HTMLParser):
    """Open and closed tags, ids, links and the text a reader sees."""

    def __init__(self):
        super().__init__()
        self.open, self.ids, self.links, self.text, self.tags = [], [], [], [], []

    def handle_starttag(self, tag, attributes):
        attributes = dict(attributes)
        self.tags.append(tag)
        if tag not in VOID:
            self.open.append(tag)
        if "id" in attributes:
            self.ids.append(attributes["id"])
        if tag == "a":
            self.links.append(attributes["href"])

    def handle_startendtag(self, tag, attributes):
        self.tags.append(tag)
        if "id" in dict(attributes):
            self.ids.append(dict(attributes)["id"])

    def handle_endtag(self, tag):
        assert self.open and self.open.pop() == tag, f"</{tag}> closes no <{tag}>"

    def handle_data(self, data):
        if self.open and self.open[-1] not in ("style", "title"):
            self.text.append(data)


def read_page(html):
    """What a reader sees, after the page was found whole and self-contained."""
    walker = PageWalker()
    walker.feed(html)
    assert walker.open == [] and len(set(walker.ids)) == len(walker.ids)
    assert not re.search(
        r"https?:|@import|<script|<link|<img",
        html.replace('xmlns="http://www.w3.org/2000/svg"', ""),
    )
    assert not re.search(r"\bnan\b|\binf\b|\bNone\b", html)
    return " ".join(" ".join(walker.text).split())
