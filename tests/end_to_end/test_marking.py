"""The marking page in a browser, worked with mouse, finger and keys, and the command around it."""

import json
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from stance.court.calibration import calibrate
from stance.court.camera import floor_point
from stance.court.court_file import read_court_file
from stance.court.dimensions import court_points
from stance.court.visible_court import mark_crossings, trace_court
from stance.marking.check import draw_court_check
from stance.marking.server import MarkingServer
from stance.marking.task import MarkingTask, prepare_marking
from tests.end_to_end.browser import Page, browser
from tests.paths import DATA

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

    def start(marks=None, is_found=False):
        task = MarkingTask(
            Path("drill.mp4"), picture, tmp_path / "drill.court.json", marks, is_found
        )
        server = MarkingServer(task)
        servers.append(server)
        return server.__enter__()

    yield start
    for server in servers:
        server.__exit__(None, None, None)


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


@pytest.mark.parametrize(("size", "phone"), [((1366, 768), False), ((390, 844), True)])
@pytest.mark.parametrize("turns", [0, 1])
def test_nothing_sticks_out_targets_can_be_hit_and_save_is_in_view(
    chromium, serve, size, phone, turns
):
    page = Page(chromium, size, phone)
    page.open(serve(read_court_file(COURT, SIZE)).address)
    for _ in range(turns):
        page.value("$('turn').click()")
    assert page.value("document.documentElement.scrollWidth") <= size[0]
    right, beside = page.value(
        "[$('stage'), $('say')].map((e) => e.getBoundingClientRect())"
        ".flatMap((box, i) => i ? [box.left] : [box.right])"
    )
    assert phone or right <= beside
    # WCAG 2.2, 2.5.8: targets of at least 24 by 24 pixels.
    targets = "main button, summary, #plan .hit"
    smallest = page.value(
        f"Math.min(...[...document.querySelectorAll('{targets}')]"
        ".map((b) => b.getBoundingClientRect()).filter((b) => b.width)"
        ".map((b) => Math.min(b.width, b.height)))"
    )
    assert smallest >= 24
    for scroll in (0, 10_000):
        page.value(f"window.scrollTo(0, {scroll})")
        left, top, right, bottom = page.value(
            "(({left, top, right, bottom}) => [left, top, right, bottom])"
            "($('save').getBoundingClientRect())"
        )
        assert left >= 0 and top >= 0 and right <= size[0] and bottom <= size[1]
        middle = (left + right) / 2, (top + bottom) / 2
        assert page.value(f"document.elementFromPoint({middle[0]}, {middle[1]}).id") == "save"
    page.close()


def test_a_found_court_is_checked_and_saved_or_gives_way_to_own_marks(chromium, serve):
    server = serve(mark_crossings(sample_camera()), is_found=True)
    page = Page(chromium, (390, 844), phone=True)
    page.open(server.address)
    assert "Check the court that was found" in page.value("$('say').textContent")
    assert "pixels" not in page.value("document.body.innerText")
    places = true_pixels()
    for number, name in enumerate(NAMES, 1):
        mark_by_tapping(page, page.touch, [name])
        settled(page)
        assert page.value("$('save').disabled") or number >= 4
        assert ("still to mark: " in page.value("$('fit').textContent")) == (number < 4)
    assert page.value("fit !== found") and not page.value("$('save').disabled")
    assert "Typical error" in page.value("$('fit').textContent")
    for _ in NAMES:
        page.value("$('undo').click()")
    settled(page)
    assert page.value("fit === found") and page.value("$('undo').disabled")
    page.value("$('restart').click()")
    assert page.value("$('save').disabled") and page.value("fit === null")
    assert "Choose a crossing on the plan" in page.value("$('say').textContent")
    page.value("$('undo').click()")
    page.value("$('save').click()")
    page.until("$('saved').open")
    assert page.value("$('command').textContent") == server.session.task.next_command
    saved = read_court_file(server.session.task.court_file, SIZE)
    np.testing.assert_allclose(saved.pixels, list(places.values()), atol=0.006)
    # What the tool laid is no mark of the coach's when the page comes back, either.
    page.reload()
    assert "Check the court that was found" in page.value("$('say').textContent")
    assert page.value("marks.size") == 0 and page.errors == []
    page.close()


def test_a_point_that_does_not_fit_is_named_and_shown_and_can_be_undone(chromium, serve):
    page = Page(chromium, (1366, 768))
    marks = mark_crossings(sample_camera())
    by_hand = marks.pixels + np.random.default_rng(1).normal(0, 0.5, marks.pixels.shape)
    page.open(serve(replace(marks, pixels=by_hand)).address)
    assert "Check the marked court" in page.value("$('say').textContent")
    x, y = true_pixels()[NAMES[4]]
    page.mouse(*(on_screen(page, x + step, y) for step in (0, 5)))
    settled(page)
    assert f"at {NAMES[4]}" in page.value("$('note').textContent")
    assert page.value("over.querySelectorAll('.worst').length") == 1
    page.mouse(*(on_screen(page, x + step, y) for step in (5, 20, 45)))
    settled(page)
    told = page.value("$('fit').textContent")
    assert told.startswith("Near long service line, centre line does not fit the other points")
    assert int(told.split("put it ")[1].split()[0]) == pytest.approx(45, abs=4)
    shown = page.value("over.querySelector('#words').textContent")
    assert float(shown.split()[0]) == pytest.approx(45, abs=4) and page.value("$('save').disabled")
    # A drag is one step back, however many moves it had.
    page.value("$('undo').click()")
    settled(page)
    mark = page.value(f"[...marks.values()].find((m) => m.name === {json.dumps(NAMES[4])})")
    assert mark["x"] == pytest.approx(x + 5, abs=2) and not page.value("$('save').disabled")
    assert page.errors == []
    page.close()


def test_the_court_can_be_marked_with_the_keyboard_alone(chromium, serve):
    server = serve()
    page = Page(chromium, (1366, 768))
    page.open(server.address)
    page.value("plan.querySelector('[tabindex=\"0\"]').focus()")
    assert page.value("plan.querySelectorAll('[tabindex=\"0\"]').length") == 1
    for name in NAMES:
        # Arrows lead to the crossing: first across, then along.
        page.value("plan.querySelector('[tabindex=\"0\"]').focus()")
        target = page.value(
            f"onPlan([...crossings.values()].find((c) => c.name === '{name}').court)"
        )
        for axis, keys in ((0, ("ArrowLeft", "ArrowRight")), (1, ("ArrowUp", "ArrowDown"))):
            for _ in range(8):
                at = page.value("onPlan(crossings.get(document.activeElement.dataset.key).court)")
                if abs(at[axis] - target[axis]) < 0.01:
                    break
                page.press(keys[int(target[axis] > at[axis])])
        page.press("Enter")
        page.press("Enter")
        assert page.value("named(chosen)") == name and page.value("marks.has(chosen)")
        x, y = true_pixels()[name].tolist()
        settled(page)
        for axis, goal, keys in (
            ("x", x, ("ArrowLeft", "ArrowRight")),
            ("y", y, ("ArrowUp", "ArrowDown")),
        ):
            while abs(apart := goal - page.value(f"marks.get(chosen).{axis}")) > 0.6:
                page.press(keys[int(apart > 0)], shift=abs(apart) > 6)
    settled(page)
    assert page.value("fit.error_px") < 1.5 and page.value("$('fit').className") == "good"
    page.press("z", control=True)
    assert page.errors == []
    page.close()


def test_where_the_court_is_found_the_page_starts_with_it(chromium, tmp_path):
    task = prepare_marking(CLIP, tmp_path / "new.court.json")
    assert task.is_found
    with MarkingServer(task) as server:
        page = Page(chromium, (1360, 800))
        page.open(server.address)
        assert "was found" in page.value("$('say').textContent")
        assert not page.value("$('save').disabled") and page.value("fit === found")
        page.close()
    pixel = np.array([640.0, 480.0])
    apart = floor_point(calibrate(task.start).camera, pixel) - floor_point(sample_camera(), pixel)
    assert np.linalg.norm(apart) < 0.05
    assert draw_court_check(CLIP, None, tmp_path / "x.png").startswith("Found")
    assert Image.open(tmp_path / "x.png").size == SIZE
