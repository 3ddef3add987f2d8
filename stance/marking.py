"""The marking page: a coach marks the court in the clip's background picture, in a browser.

The page is served on this computer's own address only, under an address that nobody can guess,
and asks for nothing from elsewhere. The camera is solved by `stance.court.calibrate`, as it is
for a court file.
"""

from __future__ import annotations

import json
import secrets
import threading
from dataclasses import dataclass
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from importlib.resources import files
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from stance.background import camera_motion, still_pictures, without_people
from stance.camera import Array, Camera, depth, project
from stance.court import (
    SCHEMA,
    MarkedCourt,
    calibrate,
    court_file_text,
    court_from_content,
    court_lines,
    court_points,
    floor_direction_error,
    net_points,
    read_court_file,
)
from stance.court_finding import find_court, moving_feet
from stance.drawing import court_picture
from stance.errors import InputError, StanceError
from stance.result import write_bytes, write_files
from stance.video import describe_clip

LOOPBACK = "127.0.0.1"
MOST_BYTES = 100_000
"""More than any set of marks takes."""

MOST_MARKS = 60
"""Both halves have 30 crossings."""

LEAVING_S = 3.0
"""A page that was left after saving and is not opened again within this time is done."""

JPEG_QUALITY = 93

# A place on the floor in the middle of each half, where stances are measured, metres.
_HALF_MIDDLES = ((0.0, -4.0), (0.0, 4.0))


def court_file_beside(clip: str | Path) -> Path:
    """Where the court file of a clip is looked for and saved: `<clip name>.court.json`."""
    return Path(clip).with_suffix(".court.json")


def seen_lines(camera: Camera) -> tuple[list[Array], list[Array]]:
    """Where a camera sees the middles of the court's lines, and the top of the net.

    Returns
    -------
    Two lists, lines and net, of courses (points, 2) in pixels, that end where they leave the
    picture by more than its own size or pass behind the camera.
    """
    floor = []
    for line in court_lines():
        (left, right), (back, front) = line.x, line.y
        if right - left > front - back:
            ends = (left, (back + front) / 2, 0.0), (right, (back + front) / 2, 0.0)
        else:
            ends = ((left + right) / 2, back, 0.0), ((left + right) / 2, front, 0.0)
        floor += _courses(camera, *ends)
    posts = net_points()
    net = [*_courses(camera, posts["left post"], posts["middle"]),
           *_courses(camera, posts["middle"], posts["right post"])]
    return floor, net


def least_direction_error_deg(camera: Camera) -> float:
    """What the marking alone adds to a direction on the better known half, degrees."""
    return float(np.nanmin([floor_direction_error(camera, place).direction_deg
                            for place in _HALF_MIDDLES]))


def marks_of(camera: Camera) -> MarkedCourt:
    """Crossings of lines, each at its middle, where a camera sees them in the picture."""
    places = np.array([place for name, place in court_points().items() if name.endswith("centre")])
    points = np.column_stack([places, np.zeros(len(places))])
    with np.errstate(invalid="ignore"):
        pixels = project(camera, points)
        margin = 0.005 * max(camera.image_size)
        shown = ((pixels > margin) & (pixels < np.array(camera.image_size) - margin)).all(axis=1)
    return MarkedCourt(camera.image_size, places[shown], pixels[shown])


def _courses(
    camera: Camera, start: tuple[float, float, float], end: tuple[float, float, float],
) -> list[Array]:
    """A straight line of the court in the picture, as one or no course (points, 2)."""
    points = np.linspace(start, end, 25)
    points = points[depth(camera, points) > 0.2]
    pixels = project(camera, points)
    size = np.array(camera.image_size)
    near = ((pixels > -size) & (pixels < 2 * size)).all(axis=1)
    return [pixels[near]] if near.sum() > 1 else []


@dataclass(frozen=True, eq=False)
class MarkingTask:
    """What is marked, and where the marks go.

    Attributes
    ----------
    clip : name shown on the page.
    background : (height, width, 3) uint8 RGB, upright.
    court_file : file to save to.
    start : marks to begin with, or None.
    start_source : "marked" for those of an earlier court file, "found" for those of a court that
        was found in the picture, "" for none.
    """

    clip: str
    background: NDArray[np.uint8]
    court_file: Path
    start: MarkedCourt | None = None
    start_source: str = ""

    @property
    def image_size(self) -> tuple[int, int]:
        """(width, height) of the picture, pixels."""
        return self.background.shape[1], self.background.shape[0]


def marking_task(clip: str | Path, court_file: Path) -> MarkingTask:
    """What is needed to mark the court of a clip: its background, and marks to begin with.

    Raises
    ------
    InputError
        If the clip can't be read or its camera keeps moving; if there is a file of the court
        file's name that is no court file of this clip, since it would be overwritten.
    """
    size = describe_clip(clip).size
    start = None
    if court_file.exists():
        try:
            start = read_court_file(court_file, size)
        except InputError as error:
            raise InputError(
                f"{error} It would be overwritten; move it away, or name another file with --out."
            ) from error
    pictures = still_pictures(clip, camera_motion(clip, size))
    background = without_people(pictures)
    if start is not None:
        return MarkingTask(Path(clip).name, background, court_file, start, "marked")
    found = find_court(background, moving_feet(pictures, background)).court
    if found is None:
        return MarkingTask(Path(clip).name, background, court_file)
    return MarkingTask(Path(clip).name, background, court_file, marks_of(found.camera), "found")


def checked_court(clip: str | Path, court_file: Path | None, picture: Path) -> str:
    """Draw a court over the clip's background into a PNG; say how well it fits.

    Parameters
    ----------
    clip : path of the video.
    court_file : marked points; without it the court is found in the picture.
    picture : PNG to write.

    Raises
    ------
    InputError, OutputError
        If the clip or the court file can't be read, no court is found, or the picture can't be
        written.
    """
    size = describe_clip(clip).size
    marks = np.empty((0, 2))
    calibrated = None
    if court_file is not None:
        marked = read_court_file(court_file, size)
        calibrated, marks = calibrate(marked), marked.pixels
    pictures = still_pictures(clip, camera_motion(clip, size))
    background = without_people(pictures)
    what = f"{len(marks)} marked points"
    if calibrated is None:
        found = find_court(background, moving_feet(pictures, background))
        if found.court is None:
            raise InputError(
                f"The court was not found. {found.reason} Or mark it with: stance court {clip}.")
        calibrated, what = found.court, f"Found with a confidence of {found.confidence:.0%}"
    turn = least_direction_error_deg(calibrated.camera)
    caption = (f"{what}, error {calibrated.error_px:.1f} pixels",
               f"adds {turn:.1f} degrees to the uncertainty of a direction")
    drawn = court_picture(background, *seen_lines(calibrated.camera), marks, caption)
    done, png = cv2.imencode(".png", cv2.cvtColor(drawn, cv2.COLOR_RGB2BGR))
    assert done
    write_bytes(picture, png.tobytes())
    return f"{caption[0]}; {caption[1]}."


class MarkingServer:
    """Serves the marking page of one task, used in a `with` statement.

    Attributes
    ----------
    address : of the page, with its secret part.
    saved : whether the court file was written.
    """

    def __init__(self, task: MarkingTask) -> None:
        self.task = task
        self.saved = False
        self._token = secrets.token_urlsafe(24)
        self._done = threading.Event()
        self._leaving: threading.Timer | None = None
        done, jpeg = cv2.imencode(".jpg", cv2.cvtColor(task.background, cv2.COLOR_RGB2BGR),
                                  [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
        assert done
        self._picture = jpeg.tobytes()
        self._page = (files("stance") / "templates" / "marking.html").read_bytes()
        self._http = ThreadingHTTPServer((LOOPBACK, 0), _handler(self))
        self._http.daemon_threads = True
        self.address = f"http://{LOOPBACK}:{self._http.server_port}/{self._token}/"
        self._thread = threading.Thread(target=self._http.serve_forever, args=(0.05,), daemon=True)

    def __enter__(self) -> MarkingServer:
        """Start to serve."""
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        """Stop to serve."""
        if self._leaving is not None:
            self._leaving.cancel()
        self._http.shutdown()
        self._http.server_close()

    def wait(self) -> None:
        """Wait until the coach is done: the file is saved and the page was closed."""
        # In steps, so that Ctrl-C is heard on every system.
        while not self._done.wait(0.2):
            pass

    def is_for_us(self, host: str | None, origin: str | None) -> bool:
        """Whether a request names this server, and not another name that leads to it."""
        ours = f"{LOOPBACK}:{self._http.server_port}"
        return host == ours and origin in (None, f"http://{ours}")

    def part(self, path: str) -> str | None:
        """The part of the address after the secret, or None without the right secret."""
        _, _, rest = path.partition("/")
        token, slash, part = rest.partition("/")
        if slash and secrets.compare_digest(token.encode(), self._token.encode()):
            return part.partition("?")[0]
        return None

    def get(self, part: str) -> tuple[str, bytes] | None:
        """Kind and content of what the page asks for; None where there is no such thing."""
        self._back_again()
        if part == "":
            return "text/html; charset=utf-8", self._page
        if part == "background.jpg":
            return "image/jpeg", self._picture
        if part == "state":
            return "application/json", json.dumps(self._state()).encode()
        return None

    def post(self, part: str, body: bytes) -> dict[str, Any] | None:
        """The answer to what the page sends; None where there is no such thing.

        Raises
        ------
        ValueError
            For a body that is no JSON.
        """
        if part == "fit":
            return _answer(self._fit, json.loads(body))
        if part == "save":
            return _answer(self._save, json.loads(body))
        if part == "leave" and self.saved:
            self._leaving = threading.Timer(LEAVING_S, self._done.set)
            self._leaving.daemon = True
            self._leaving.start()
        elif part not in ("leave", "done"):
            return None
        return {"ok": True}

    def answered(self, part: str) -> None:
        """End the wait after the last answer has gone out."""
        if part == "done" and self.saved:
            self._done.set()

    def _back_again(self) -> None:
        if self._leaving is not None:
            self._leaving.cancel()

    def _state(self) -> dict[str, Any]:
        task = self.task
        start, source = task.start, task.start_source
        if self.saved:
            start, source = read_court_file(task.court_file, task.image_size), "marked"
        marks = [] if start is None else [
            {**point, "name": _name(point["court"])}
            for point in _points(start.court_points, start.pixels)]
        crossings = [
            {"name": name.removesuffix(", centre"), "court": place}
            for name, place in court_points().items() if name.endswith(", centre")]
        return {
            "clip": task.clip, "image_size": task.image_size, "court_file": task.court_file.name,
            "marks": marks, "source": source, "crossings": crossings, "saved": self.saved,
            "lines": [{"x": line.x, "y": line.y} for line in court_lines()]}

    def _marked(self, content: Any) -> MarkedCourt:
        points = content.get("points") if isinstance(content, dict) else None
        if isinstance(points, list) and len(points) > MOST_MARKS:
            raise InputError(f"{len(points)} points are marked; {MOST_MARKS} are enough.")
        content = {"schema": SCHEMA, "image_size": list(self.task.image_size), "points": points}
        return court_from_content(_in_order(content), self.task.court_file, self.task.image_size)

    def _fit(self, content: Any) -> dict[str, Any]:
        return _fit_on_page(self._marked(content))

    def _save(self, content: Any) -> dict[str, Any]:
        marked = self._marked(content)
        fit = _fit_on_page(marked)
        write_files(self.task.court_file.parent, {
            self.task.court_file.name: court_file_text(marked)})
        self.saved = True
        return {**fit, "file": str(self.task.court_file)}


def _points(places: Array, pixels: Array) -> list[dict[str, Any]]:
    """Court places and pixels, each (points, 2), as in a court file."""
    return [{"court": place.tolist(), "pixel": pixel.tolist()}
            for place, pixel in zip(places, pixels, strict=True)]


def _name(place: list[float]) -> str:
    """What a place on the court is called."""
    for name, known in court_points().items():
        if np.allclose(place, known, atol=0.002):
            return name.removesuffix(", centre")
    return f"court {place[0]:.2f}, {place[1]:.2f} m"


def _fit_on_page(marked: MarkedCourt) -> dict[str, Any]:
    """What the page shows of a fit: lines, crossings and misfits in pixels."""
    calibrated = calibrate(marked)
    camera = calibrated.camera
    lines, net = seen_lines(camera)
    crossings = marks_of(camera)
    wanted = project(camera, np.column_stack([marked.court_points, np.zeros(len(marked.pixels))]))
    return {
        "ok": True,
        "error_px": calibrated.error_px,
        "direction_deg": least_direction_error_deg(camera),
        "lines": [np.round(line, 2).tolist() for line in lines],
        "net": [np.round(line, 2).tolist() for line in net],
        "crossings": _points(crossings.court_points, np.round(crossings.pixels, 2)),
        "fitted": _points(marked.court_points, np.round(wanted, 2)),
    }


def _in_order(content: dict[str, Any]) -> dict[str, Any]:
    """The same marks with four that span the court first, where they are marks at all."""
    try:
        points = np.array([[*entry["court"], *entry["pixel"]] for entry in content["points"]],
                          float)
        if not np.isfinite(points).all():
            return content
        marked = MarkedCourt(tuple(content["image_size"]), points[:, :2], points[:, 2:])
        ordered: dict[str, Any] = json.loads(court_file_text(marked))
    except (TypeError, ValueError, KeyError, IndexError, OverflowError):
        return content
    return ordered


def _answer(act: Any, content: Any) -> dict[str, Any]:
    try:
        answer: dict[str, Any] = act(content)
    except StanceError as error:
        return {"ok": False, "text": str(error)}
    return answer


def _handler(server: MarkingServer) -> type[BaseHTTPRequestHandler]:
    """The handler of requests to one server."""

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"
        timeout = 30

        def do_GET(self) -> None:
            part = self._allowed()
            found = None if part is None else server.get(part)
            if found is None:
                self._send(HTTPStatus.NOT_FOUND, "text/plain", b"")
            else:
                self._send(HTTPStatus.OK, *found)

        def do_POST(self) -> None:
            part = self._allowed()
            length = self.headers.get("Content-Length", "")
            if not length.isdigit() or int(length) > MOST_BYTES:
                self.close_connection = True
                self._send(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, "text/plain", b"")
                return
            body = self.rfile.read(int(length))
            try:
                answer = None if part is None else server.post(part, body)
            except (ValueError, RecursionError):
                self._send(HTTPStatus.BAD_REQUEST, "text/plain", b"")
                return
            if part is None or answer is None:
                self._send(HTTPStatus.NOT_FOUND, "text/plain", b"")
            else:
                self._send(HTTPStatus.OK, "application/json", json.dumps(answer).encode())
                server.answered(part)

        def _allowed(self) -> str | None:
            if not server.is_for_us(self.headers.get("Host"), self.headers.get("Origin")):
                return None
            return server.part(self.path)

        def _send(self, status: HTTPStatus, kind: str, content: bytes) -> None:
            self.send_response(status)
            self.send_header("Content-Type", kind)
            self.send_header("Content-Length", str(len(content)))
            self.send_header("Cache-Control", "no-store")
            self.send_header("Referrer-Policy", "no-referrer")
            self.send_header("X-Content-Type-Options", "nosniff")
            self.send_header("Content-Security-Policy", (
                "default-src 'none'; img-src 'self' data:; connect-src 'self'; "
                "style-src 'unsafe-inline'; script-src 'unsafe-inline'; base-uri 'none'; "
                "form-action 'none'; frame-ancestors 'none'"))
            self.end_headers()
            self.wfile.write(content)

        def log_message(self, format: str, *args: Any) -> None:
            """Say nothing: the address is secret."""

    return Handler
