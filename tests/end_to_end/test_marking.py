"""The marking page in a browser, worked with mouse, finger and keys, and the command around it."""

import http.client
import json
import os
import shlex
import signal
import subprocess
import sys
import time
from pathlib import Path
from urllib.parse import urlsplit

import cv2
import numpy as np
import pytest
from PIL import Image

from stance.court.calibration import calibrate
from stance.court.camera import floor_point
from stance.court.court_file import read_court_file
from stance.court.dimensions import court_points
from stance.court.visible_court import mark_crossings, trace_court
from stance.errors import InputError
from stance.marking.check import draw_court_check
from stance.marking.server import MarkingServer
from stance.marking.task import MarkingTask, prepare_marking
from tests.end_to_end.browser import Page, browser
from tests.end_to_end.clips import make_clip
from tests.paths import DATA, ROOT

CLIP = DATA / "rear_corner_drill.mp4"
COURT = DATA / "rear_corner_drill.court.json"
SIZE = (1280, 720)
# Crossings' middles that the sample clip shows, by the camera of its court file.
NAMES = (
    "near back line, left doubles side line",
    "near short service line, right doubles side line",
    "far back line, left doubles side line",
    "near short service line, left doubles side line",
    "near long service line, centre line",
    "far short service line, centre line",
)


def sample_camera():
    return calibrate(read_court_file(COURT, SIZE)).camera


@pytest.fixture(scope="module")
def picture():
    return prepare_marking(CLIP, COURT).background


@pytest.fixture(scope="module")
def chromium():
    with browser() as address:
        yield address


@pytest.fixture
def serve(picture, tmp_path):
    """A server with a task of its own; start marks where asked for."""
    servers = []

    def start(marks=None):
        server = MarkingServer(
            MarkingTask(Path("drill.mp4"), picture, tmp_path / "drill.court.json", marks)
        )
        servers.append(server)
        return server.__enter__()

    yield start
    for server in servers:
        server.__exit__(None, None, None)


def marks_file():
    return json.loads(COURT.read_text())["points"]


def test_lines_of_the_court_lie_where_the_picture_is_painted(picture):
    court = trace_court(sample_camera())
    assert len(court.lines) == 12 and len(court.net) == 2
    light = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY).astype(int)
    on, beside = [], []
    for line in court.lines:
        for x, y in line:
            if 20 < x < 1260 and 20 < y < 700:
                on.append(light[int(y) - 1 : int(y) + 2, int(x) - 1 : int(x) + 2].max())
                beside.append(light[int(y) - 12, int(x)])
    assert np.median(np.array(on) - beside) > 40


def on_screen(page, x, y):
    """Where the picture's pixel shows in the page."""
    box = page.value("(({x, y, width}) => [x, y, width])($('over').getBoundingClientRect())")
    return box[0] + x * box[2] / SIZE[0], box[1] + y * box[2] / SIZE[0]


def true_pixels():
    marks = mark_crossings(sample_camera())
    names = {place: name.removesuffix(", centre") for name, place in court_points().items()}
    return {
        names[tuple(place)]: pixel
        for place, pixel in zip(marks.court_points.tolist(), marks.pixels, strict=True)
    }


def mark_by_tapping(page, act, names):
    """Choose each crossing on the plan, then tap its place in the picture."""
    places = true_pixels()
    for name in names:
        page.value(
            f"[...spots].find(([k]) => named(k) === {json.dumps(name)})[1]"
            ".dispatchEvent(new MouseEvent('click'))"
        )
        act(on_screen(page, *places[name]))
        page.until(f"[...marks.values()].some((m) => m.name === {json.dumps(name)})")


def settled(page):
    page.until("!busy && !again")


@pytest.mark.parametrize("phone", [False, True])
def test_drag_save_and_reload_with_mouse_and_finger(chromium, serve, phone):
    server = serve()
    page = Page(chromium, (390, 844) if phone else (1360, 800), phone)
    act = page.touch if phone else page.mouse
    page.open(server.address)
    assert page.value("$('save').disabled")
    mark_by_tapping(page, act, NAMES)
    settled(page)
    # A finger's tap is right to a screen pixel, which is some of the picture's.
    assert page.value("fit.error_px") < 8
    # Drag one away and back again, a few pixels off on purpose.
    x, y = true_pixels()[NAMES[1]]
    start, far, back = (on_screen(page, *p) for p in ((x, y), (x - 60, y + 40), (x, y)))
    act(start, ((start[0] + far[0]) / 2, (start[1] + far[1]) / 2), far)
    settled(page)
    moved = page.value(f"[...marks.values()].find((m) => m.name === {json.dumps(NAMES[1])})")
    assert moved["x"] == pytest.approx(x - 60, abs=8) and moved["y"] == pytest.approx(y + 40, abs=8)
    assert page.value("$('fit').className") == "bad"
    act(far, back)
    settled(page)
    assert page.value("$('fit').className") == "good"
    page.value("$('save').click()")
    page.until("$('saved').open")
    calibrated = calibrate(read_court_file(server.session.task.court_file, SIZE))
    truth = sample_camera()
    pixel = np.array([640.0, 480.0])
    apart = floor_point(calibrated.camera, pixel) - floor_point(truth, pixel)
    assert np.linalg.norm(apart) < 0.15
    before = page.value("JSON.stringify([...marks.values()].map((m) => [m.x, m.y]).sort())")
    page.reload()
    after = page.value("JSON.stringify([...marks.values()].map((m) => [m.x, m.y]).sort())")
    np.testing.assert_allclose(json.loads(after), json.loads(before), atol=0.006)
    assert page.errors == []
    assert all(url.startswith((server.address, "data:")) for url in page.requests)
    page.value("$('save').click()")
    page.until("$('saved').open")
    page.value("$('done').click()")
    server.wait()
    page.close()


@pytest.mark.parametrize("phone", [False, True])
def test_the_magnifier_and_keys_place_a_point_finely(chromium, serve, phone):
    page = Page(chromium, (390, 844) if phone else (1360, 800), phone)
    page.open(serve(read_court_file(COURT, SIZE)).address)
    page.value("choose([...marks.keys()][0])")
    start = page.value("marks.get(chosen)")
    x, y, side = page.value("(({x, y, width}) => [x, y, width])(lens.getBoundingClientRect())")
    middle = x + side / 2, y + side / 2
    (page.touch if phone else page.mouse)(middle, (middle[0] - 10, middle[1] + 5))
    moved = page.value("marks.get(chosen)")
    # The content follows the pointer, magnified five times.
    assert moved["x"] - start["x"] == pytest.approx(2.0, abs=0.3)
    assert moved["y"] - start["y"] == pytest.approx(-1.0, abs=0.3)
    page.value("over.focus()")
    page.press("ArrowRight")
    page.press("ArrowUp", shift=True)
    nudged = page.value("marks.get(chosen)")
    assert nudged["x"] - moved["x"] == pytest.approx(1.0)
    assert nudged["y"] - moved["y"] == pytest.approx(-10.0)
    page.value("document.querySelector('[data-x=\"-1\"]').click()")
    assert page.value("marks.get(chosen).x") == pytest.approx(moved["x"])
    count = page.value("marks.size")
    page.press("Delete")
    assert page.value("marks.size") == count - 1
    assert page.errors == []
    page.close()


def test_a_sketched_court_is_dragged_into_place(chromium, serve):
    server = serve()
    page = Page(chromium, (1360, 800))
    page.open(server.address)
    page.value("$('sketch').click()")
    settled(page)
    page.until("fit !== null")
    assert page.value("$('save').disabled") and page.value("fit.lines.length") > 8
    places = true_pixels()
    # The right back corner is beyond the picture's edge; the sketch's point there is taken off.
    for name in page.value("[...marks.values()].map((m) => m.name)"):
        if name not in places:
            page.value(f"choose([...marks].find(([k, m]) => m.name === {json.dumps(name)})[0])")
            page.value("$('remove').click()")
            continue
        x, y = page.value(
            f"(({{x, y}}) => [x, y])([...marks.values()].find("
            f"(m) => m.name === {json.dumps(name)}))"
        )
        page.mouse(on_screen(page, x, y), on_screen(page, *places[name]))
        settled(page)
    assert page.value("$('save').disabled")
    mark_by_tapping(page, page.mouse, ("far back line, centre line", NAMES[5]))
    settled(page)
    assert not page.value("$('save').disabled") and page.value("fit.error_px") < 3
    # A free crossing of the projected court can be dragged, and becomes a mark.
    size = page.value("marks.size")
    x, y = places["near long service line, centre line"]
    at = on_screen(
        page,
        *page.value(
            "ghost([...crossings].find(([k, c]) => "
            "c.name === 'near long service line, centre line')[0])"
        ),
    )
    page.mouse(at, on_screen(page, x, y))
    settled(page)
    assert page.value("marks.size") == size + 1
    assert page.errors == []
    page.close()


@pytest.mark.parametrize(("size", "phone"), [((1360, 800), False), ((360, 640), True)])
def test_nothing_sticks_out_of_the_screen(chromium, serve, size, phone):
    page = Page(chromium, size, phone)
    page.open(serve(read_court_file(COURT, SIZE)).address)
    assert page.value("document.documentElement.scrollWidth") <= size[0]
    # WCAG 2.2, 2.5.8: targets of at least 24 by 24 pixels.
    smallest = page.value(
        "Math.min(...[...document.querySelectorAll('main button')]"
        ".filter((b) => !b.hidden).map((b) => "
        "Math.min(b.offsetWidth, b.offsetHeight)))"
    )
    assert smallest >= 24
    page.close()


def test_where_the_court_is_found_the_page_starts_with_it(chromium, tmp_path):
    task = prepare_marking(CLIP, tmp_path / "new.court.json")
    assert task.start_source == "found"
    with MarkingServer(task) as server:
        page = Page(chromium, (1360, 800))
        page.open(server.address)
        assert "was found" in page.value("$('note').textContent")
        assert not page.value("$('save').disabled") and page.value("fit.error_px") < 3
        page.close()
    pixel = np.array([640.0, 480.0])
    apart = floor_point(calibrate(task.start).camera, pixel) - floor_point(sample_camera(), pixel)
    assert np.linalg.norm(apart) < 0.05
    assert draw_court_check(CLIP, None, tmp_path / "x.png").startswith("Found")
    assert Image.open(tmp_path / "x.png").size == SIZE


def stance(*arguments, cwd):
    return subprocess.run(
        [sys.executable, "-m", "stance", *map(str, arguments)],
        cwd=cwd,
        capture_output=True,
        text=True,
        check=False,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )


def test_a_check_draws_the_court_and_prints_its_error(tmp_path):
    run = stance("court", CLIP, "--check", cwd=tmp_path)
    assert run.returncode == 0, run.stderr
    assert "error 0.6 pixels" in run.stdout
    drawn = Image.open(tmp_path / "rear_corner_drill_court.png")
    assert drawn.size == SIZE
    assert [p.name for p in tmp_path.iterdir()] == ["rear_corner_drill_court.png"]


def test_what_cannot_be_checked_or_marked_is_refused(tmp_path):
    with pytest.raises(InputError, match="no court file"):
        draw_court_check(CLIP, tmp_path / "none.court.json", tmp_path / "x.png")
    hall = make_clip(tmp_path / "hall.mp4")
    with pytest.raises(InputError, match="Or mark it with"):
        draw_court_check(hall, None, tmp_path / "x.png")
    assert prepare_marking(hall, tmp_path / "hall.court.json").start is None
    other = tmp_path / "drill.court.json"
    other.write_text("{}")
    with pytest.raises(InputError, match="overwritten"):
        prepare_marking(CLIP, other)
    assert stance("court", CLIP, "--court", COURT, cwd=tmp_path).returncode == 2
    assert stance("court", tmp_path / "none.mp4", cwd=tmp_path).returncode == 3
    assert other.read_text() == "{}"


def test_the_command_serves_saves_and_ends(tmp_path):
    out = tmp_path / "new.court.json"
    run = subprocess.Popen(
        [sys.executable, "-u", "-m", "stance", "court", CLIP, "--out", out, "--no-browser"],
        stderr=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )
    address = next(
        word for line in run.stderr for word in line.split() if word.startswith("http://")
    )
    parts = urlsplit(address)
    for part, body in (("save", {"points": marks_file()}), ("done", {})):
        connection = http.client.HTTPConnection(parts.hostname, parts.port, timeout=10)
        connection.request("POST", parts.path + part, json.dumps(body))
        assert json.loads(connection.getresponse().read())["ok"]
        connection.close()
    output, _ = run.communicate(timeout=20)
    assert run.returncode == 0
    assert (
        output
        == f"Saved: {out}\nNext: {shlex.join(('stance', 'analyse', str(CLIP)))} --court {out}\n"
    )
    read_court_file(out, SIZE)


def test_ctrl_c_ends_without_a_file(tmp_path):
    out = tmp_path / "new.court.json"
    run = subprocess.Popen(
        [sys.executable, "-u", "-m", "stance", "court", CLIP, "--out", out, "--no-browser"],
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )
    for line in run.stderr:
        if "http://" in line:
            break
    time.sleep(0.3)
    run.send_signal(signal.SIGINT)
    _, messages = run.communicate(timeout=20)
    assert run.returncode == 130 and "Traceback" not in messages and not out.exists()
