"""The marking page: a coach marks the court in the clip's background picture, in a browser.

The page is served on this computer's own address only, under an address that nobody can guess,
and asks for nothing from elsewhere. The camera is solved by `stance.court.calibrate`, as it is
for a court file.
"""

import json
import secrets
import threading
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from importlib.resources import files
from typing import Any

import cv2
import numpy as np

from stance.court.calibration import calibrate
from stance.court.camera import project
from stance.court.court_file import (
    SCHEMA,
    MarkedCourt,
    check_court,
    court_file_text,
    read_court_file,
    round_marks,
)
from stance.court.dimensions import court_lines, court_points
from stance.errors import InputError, StanceError
from stance.marking.task import (
    JPEG_QUALITY,
    MarkingTask,
    least_direction_error_deg,
    marks_of,
    seen_lines,
)
from stance.results.files import write_files
from stance.types import FloatArray

LOOPBACK = "127.0.0.1"

MOST_BYTES = 100_000
"""More than any set of marks takes."""

MOST_MARKS = 60
"""Both halves have 30 crossings."""

LEAVING_S = 3.0
"""A page that was left after saving and is not opened again within this time is done."""


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
        done, jpeg = cv2.imencode(
            ".jpg",
            cv2.cvtColor(task.background, cv2.COLOR_RGB2BGR),
            [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY],
        )
        assert done
        self._picture = jpeg.tobytes()
        self._page = (files("stance.marking") / "templates" / "marking.html").read_bytes()
        self._http = ThreadingHTTPServer((LOOPBACK, 0), _handler(self))
        self._http.daemon_threads = True
        self.address = f"http://{LOOPBACK}:{self._http.server_port}/{self._token}/"
        self._thread = threading.Thread(target=self._http.serve_forever, args=(0.05,), daemon=True)

    def __enter__(self) -> "MarkingServer":
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
        marks = (
            []
            if start is None
            else [
                {**point, "name": _name(point["court"])}
                for point in _points(start.court_points, start.pixels)
            ]
        )
        crossings = [
            {"name": name.removesuffix(", centre"), "court": place}
            for name, place in court_points().items()
            if name.endswith(", centre")
        ]
        return {
            "clip": task.clip,
            "image_size": task.image_size,
            "court_file": task.court_file.name,
            "marks": marks,
            "source": source,
            "crossings": crossings,
            "saved": self.saved,
            "lines": [{"x": line.x, "y": line.y} for line in court_lines()],
        }

    def _marked(self, content: Any) -> MarkedCourt:
        points = content.get("points") if isinstance(content, dict) else None
        if isinstance(points, list) and len(points) > MOST_MARKS:
            raise InputError(f"{len(points)} points are marked; {MOST_MARKS} are enough.")
        content = {"schema": SCHEMA, "image_size": list(self.task.image_size), "points": points}
        return round_marks(check_court(content, self.task.court_file, self.task.image_size))

    def _fit(self, content: Any) -> dict[str, Any]:
        return _fit_on_page(self._marked(content))

    def _save(self, content: Any) -> dict[str, Any]:
        marked = self._marked(content)
        fit = _fit_on_page(marked)
        write_files(
            self.task.court_file.parent, {self.task.court_file.name: court_file_text(marked)}
        )
        self.saved = True
        return {**fit, "file": str(self.task.court_file)}


def _points(places: FloatArray, pixels: FloatArray) -> list[dict[str, Any]]:
    """Court places and pixels, each (points, 2), as in a court file."""
    return [
        {"court": place.tolist(), "pixel": pixel.tolist()}
        for place, pixel in zip(places, pixels, strict=True)
    ]


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
            self.send_header(
                "Content-Security-Policy",
                (
                    "default-src 'none'; img-src 'self' data:; connect-src 'self'; "
                    "style-src 'unsafe-inline'; script-src 'unsafe-inline'; base-uri 'none'; "
                    "form-action 'none'; frame-ancestors 'none'"
                ),
            )
            self.end_headers()
            self.wfile.write(content)

        def log_message(self, format: str, *args: Any) -> None:
            """Say nothing: the address is secret."""

    return Handler
