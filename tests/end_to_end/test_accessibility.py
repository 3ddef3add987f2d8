"""Every page, as axe judges it in Chromium: on a phone and a laptop, light and dark."""

import itertools
import json
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from stance.court.court_file import read_court_file
from stance.marking.server import MarkingServer
from stance.marking.task import MarkingTask
from tests.end_to_end.browser import Page, browser
from tests.paths import DATA
from tests.unit.invented_pages import make_pages

AXE = (files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8")
# Beside what axe looks at unasked: targets of 24 px (WCAG 2.2, 2.5.8).
RULES = {"rules": {"target-size": {"enabled": True}}, "resultTypes": ["violations"]}
SIZES = ((390, 844), (1366, 768))
LOADED = "document.readyState === 'complete'"
PAGES = dict(make_pages())


@pytest.fixture(scope="module")
def chromium():
    with browser() as address:
        yield address


def judge(address, place, ready):
    """What axe finds at a place, in lines."""
    page = Page(address, SIZES[0])
    page.send("Page.navigate", url=place)
    page.until(f"location.href !== 'about:blank' && {ready}")
    page.value(AXE)
    # What is folded away is read, too.
    page.value("document.querySelectorAll('details').forEach(fold => { fold.open = true; })")
    # Of links in a drawing axe measures no size.
    assert page.value("document.querySelectorAll('svg a').length") == 0
    found = []
    for (width, height), scheme in itertools.product(SIZES, ("light", "dark")):
        page.send(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=1,
            mobile=width < 500,
        )
        media = [{"name": "prefers-color-scheme", "value": scheme}]
        page.send("Emulation.setEmulatedMedia", features=media)
        for finding in page.value(f"axe.run(document, {json.dumps(RULES)})")["violations"]:
            found += [
                f"{width} px, {scheme}: {finding['id']}: {node['html'][:160]}\n"
                f"  {node['failureSummary']}"
                for node in finding["nodes"]
            ]
    assert page.errors == []
    page.close()
    return found


def test_axe_finds_what_is_wrong(chromium, tmp_path):
    (tmp_path / "page.html").write_text(
        "<!DOCTYPE html><html lang='en'><title>t</title><main><h1>h</h1>"
        "<p style='background:#2a9d8f;color:#fff'>white on teal</p></main>"
    )
    found = judge(chromium, (tmp_path / "page.html").as_uri(), LOADED)
    assert len(found) == 4 and all("color-contrast" in line for line in found)


@pytest.mark.parametrize("name", PAGES)
def test_a_page_of_a_report_has_no_findings(chromium, tmp_path, name):
    (tmp_path / "page.html").write_text(PAGES[name], encoding="utf-8")
    found = judge(chromium, (tmp_path / "page.html").as_uri(), LOADED)
    assert found == [], "\n".join(found)


@pytest.mark.parametrize("begins_with", ["nothing", "marks", "found court", "misfit"])
def test_the_marking_page_has_no_findings(chromium, tmp_path, begins_with):
    court = read_court_file(DATA / "rear_corner_drill.court.json", (1280, 720))
    picture = np.full((720, 1280, 3), 90, np.uint8)
    if begins_with == "misfit":
        court.pixels[2] += [25.0, -14.0]
    start = None if begins_with == "nothing" else court
    task = MarkingTask(
        Path("drill.mp4"),
        picture,
        tmp_path / "drill.court.json",
        start,
        is_found=begins_with == "found court",
    )
    with MarkingServer(task) as server:
        found = judge(chromium, server.address, "document.body?.dataset.ready === 'yes'")
    assert found == [], "\n".join(found)
