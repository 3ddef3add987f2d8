"""What a client may send to the marking page: damaged marks, heads and manners."""

import contextlib
import io
import json
import random
import socket
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import numpy as np

from tests.evaluation.faults import damage
from tests.evaluation.faults.cases import Fault
from tests.paths import SAMPLE_CLIPS

COURT = SAMPLE_CLIPS / "rear_corner_rally.court.json"

# What a client says of its body's length.
_LENGTHS = ("", "-1", "1e3", "0x10", "\u00b2", "9" * 5000, "99999999999", "100001", "7", "0")

_ANSWER_S = 10.0


def try_page(draw: random.Random, place: Path, base: Path) -> None:
    """Send something to the marking page; it answers, says nothing on stderr, and lives on."""
    from stance.court.court_file import read_court_file
    from stance.marking.server import MarkingServer
    from stance.marking.task import MarkingTask

    content = json.loads(COURT.read_text())
    width, height = content["image_size"]
    file = place / "x.court.json"
    task = MarkingTask(place / "x.mp4", np.zeros((height, width, 3), np.uint8), file)
    said = io.StringIO()
    with contextlib.redirect_stderr(said), MarkingServer(task) as server:
        address = urlsplit(server.address)
        place_of = (address.hostname or "", address.port or 0)
        answer = _talk(draw, place_of, _draw_request(draw, address.netloc, address.path, content))
        if b" 500 " in answer.split(b"\r\n")[0]:
            raise Fault("answer 500")
        state = f"GET {address.path}state HTTP/1.1\r\nHost: {address.netloc}\r\n\r\n".encode()
        if not _exchange(place_of, state).startswith(b"HTTP/1.1 200"):
            raise Fault("the page does not answer any more")
    if "Traceback" in said.getvalue():
        raise Fault(f"on stderr: {said.getvalue().strip().splitlines()[-1]}")
    if file.exists():
        read_court_file(file)


def _draw_request(draw: random.Random, host: str, path: str, content: dict[str, Any]) -> bytes:
    """A request with damaged marks, or with a damaged head."""
    points = content["points"]
    if draw.random() < 0.4:
        body = json.dumps({"points": damage.misplace_marks(draw, points)})
    else:
        body = damage.change_json(draw, json.dumps({"points": points}))
    sent = body.encode("utf-8", "surrogatepass")
    length = draw.choice(_LENGTHS) if draw.random() < 0.2 else str(len(sent))
    method = draw.choice(("POST",) * 8 + ("GET", "PUT", "BREW", ""))
    part = draw.choice(("fit", "save", "fit", "save", "leave", "done", "state", "../x", "a" * 9000))
    more = draw.choice(("",) * 4 + ("Transfer-Encoding: chunked\r\n", "Expect: 100-continue\r\n"))
    head = f"{method} {path}{part} HTTP/1.1\r\nHost: {host}\r\nContent-Length: {length}\r\n{more}"
    request = head.encode() + b"\r\n" + sent
    return damage.flip_bytes(draw, request) if draw.random() < 0.2 else request


def _talk(draw: random.Random, place: tuple[str, int], request: bytes) -> bytes:
    """Send a request whole, in parts, or go away in the middle."""
    if draw.random() < 0.1:
        with socket.create_connection(place, _ANSWER_S) as connection:
            connection.sendall(request[: draw.randrange(len(request) + 1)])
        return b""
    return _exchange(place, request, draw.choice((0, 0, 0, draw.randrange(len(request) + 1))))


def _exchange(place: tuple[str, int], request: bytes, cut: int = 0) -> bytes:
    """The answer to a request, which is sent in two parts where a cut is given."""
    with socket.create_connection(place, _ANSWER_S) as connection:
        # A server that has heard enough may hang up before the end.
        with contextlib.suppress(OSError):
            for part in (request[:cut], request[cut:]):
                connection.sendall(part)
            connection.shutdown(socket.SHUT_WR)
        answer = b""
        with contextlib.suppress(ConnectionError):
            while block := connection.recv(65536):
                answer += block
    return answer
