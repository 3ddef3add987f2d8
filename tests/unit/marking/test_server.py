"""The marking server: it answers this computer alone, and refuses bad marks in a sentence."""

import http.client
import json
import socket
import struct
import threading
import time
from dataclasses import replace
from pathlib import Path
from urllib.parse import urlsplit

import numpy as np
import pytest

from stance.court.calibration import calibrate
from stance.court.court_file import read_court_file
from stance.errors import StanceError
from stance.marking import server as marking_server
from stance.marking.server import MOST_CONNECTIONS, MarkingServer
from stance.marking.task import MarkingTask
from tests.paths import DATA
from tests.unit.court.cameras import SIZE

COURT = DATA / "rear_corner_drill.court.json"


@pytest.fixture
def server(tmp_path):
    picture = np.zeros((SIZE[1], SIZE[0], 3), np.uint8)
    with MarkingServer(
        MarkingTask(Path("drill.mp4"), picture, tmp_path / "drill.court.json")
    ) as server:
        yield server


def ask(server, method, part, body=None, host=None, path=None, headers=None):
    address = urlsplit(server.address)
    connection = http.client.HTTPConnection(address.hostname, address.port, timeout=10)
    connection.request(
        method,
        path or address.path + part,
        body,
        {"Host": host or address.netloc, **(headers or {})},
    )
    answer = connection.getresponse()
    content = answer.read()
    connection.close()
    return answer, content


def marks_file():
    return json.loads(COURT.read_text())["points"]


def test_the_page_is_served_on_the_loopback_address_alone(server):
    assert urlsplit(server.address).hostname == "127.0.0.1"
    port = urlsplit(server.address).port
    # The whole 127/8 is this computer (RFC 1122, 3.2.1.3); bound to all addresses, it would answer.
    with socket.socket() as other, pytest.raises(ConnectionRefusedError):
        other.connect(("127.0.0.2", port))


@pytest.mark.parametrize(
    "change",
    [
        {"path": "/"},
        {"path": "/wrong/"},
        {"path": "/wrong/state"},
        {"host": "example.org"},
        {"headers": {"Origin": "http://example.org"}},
        {"path": "//"},
        {"path": "/%C3%A4/"},
    ],
)
def test_without_the_secret_or_from_elsewhere_there_is_nothing(server, change):
    answer, content = ask(server, "GET", "state", **change)
    assert answer.status == 404 and content == b""
    body = json.dumps({"points": marks_file()})
    answer, _ = ask(server, "POST", "save", body, **change)
    assert answer.status == 404 and not server.session.task.court_file.exists()


def test_the_page_may_load_nothing_from_elsewhere(server):
    answer, page = ask(server, "GET", "")
    assert answer.status == 200
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
    assert b"http" not in page.replace(b"http://www.w3.org/2000/svg", b"")


@pytest.mark.parametrize(
    ("body", "status"), [(b"no json", 400), (b"[" * 50_000, 400), (b"x" * 200_000, 413)]
)
def test_what_is_no_json_is_refused(server, body, status):
    answer, _ = ask(server, "POST", "fit", body)
    assert answer.status == status


def point(**change):
    return {**marks_file()[0], **change}


@pytest.mark.parametrize(
    "content",
    [
        None,
        [],
        {},
        {"points": 3},
        {"points": []},
        {"points": [1, 2, 3, 4]},
        {"points": [{"court": [0, 0]}] * 4},
        {"points": marks_file()[:3]},
        {"points": [*marks_file()[:5], point(pixel=["a", 1])]},
        {"points": [*marks_file()[:5], point(court=[99, 1])]},
        {"points": [*marks_file()[1:6], point(pixel=[-5, 1])]},
        {"points": [*marks_file()[1:6], point(court=[None, 1])]},
        {"points": marks_file() * 20},
    ],
)
def test_bad_marks_get_a_sentence_and_are_not_saved(server, content):
    for part in ("fit", "save"):
        answer, reply = ask(server, "POST", part, json.dumps(content))
        assert answer.status == 200
        reply = json.loads(reply)
        assert reply["ok"] is False and reply["text"].strip().endswith(".")
    assert not server.session.task.court_file.exists() and not server.session.saved


def test_marks_in_any_order_are_saved_so_that_they_can_be_read(server):
    points = sorted(marks_file(), key=lambda p: p["court"])
    _, reply = ask(server, "POST", "save", json.dumps({"points": points}))
    assert json.loads(reply)["ok"]
    marked = read_court_file(server.session.task.court_file, SIZE)
    assert len(marked.pixels) == len(points)
    assert calibrate(marked).error_px == pytest.approx(json.loads(reply)["error_px"])


def test_a_folder_that_is_gone_gets_a_sentence_and_the_file_before_stays(server, tmp_path):
    (tmp_path / "taken").write_text("a file")
    server.session.task = replace(
        server.session.task, court_file=tmp_path / "taken" / "x.court.json"
    )
    _, reply = ask(server, "POST", "save", json.dumps({"points": marks_file()}))
    assert not json.loads(reply)["ok"] and "taken" in json.loads(reply)["text"]
    assert (tmp_path / "taken").read_text() == "a file"


@pytest.mark.parametrize("length", ["9" * 5000, "\u00b2", "-1", "1e3", "100001", ""])
def test_a_length_that_is_none_is_refused(server, length):
    answer, _ = ask(server, "POST", "fit", headers={"Content-Length": length})
    assert answer.status == 413


def connect(server):
    return socket.create_connection(("127.0.0.1", urlsplit(server.address).port), timeout=10)


def head(server, method, part, length):
    address = urlsplit(server.address)
    return (
        f"{method} {address.path}{part} HTTP/1.1\r\nHost: {address.netloc}\r\n"
        f"Content-Length: {length}\r\n\r\n"
    ).encode()


def test_without_the_secret_no_body_is_waited_for(server):
    with connect(server) as client:
        client.sendall(head(server, "POST", "fit", 1000).replace(server._http.token.encode(), b"x"))
        assert client.recv(100).startswith(b"HTTP/1.1 404")


def test_a_slow_sender_is_cut_off_and_one_that_leaves_makes_no_noise(server, monkeypatch, capfd):
    monkeypatch.setattr(marking_server, "CONNECTION_S", 0.3)
    with connect(server) as client:
        client.sendall(head(server, "POST", "fit", 1000) + b"[")
        # The end comes though the client still sends.
        start = time.monotonic()
        while time.monotonic() - start < 5:
            try:
                client.sendall(b" ")
            except OSError:
                break
            time.sleep(0.05)
        assert time.monotonic() - start < 5
    for _ in range(3):
        with connect(server) as client:
            client.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
            client.sendall(head(server, "GET", "background.jpg", 0))
    assert ask(server, "GET", "state")[0].status == 200
    assert capfd.readouterr() == ("", "")


def test_no_more_threads_are_held_than_the_limit(server):
    held = [connect(server) for _ in range(3 * MOST_CONNECTIONS)]
    time.sleep(0.5)
    answering = [t for t in threading.enumerate() if "process_request_thread" in t.name]
    assert len(answering) <= MOST_CONNECTIONS
    for client in held:
        client.close()


def test_a_page_that_nobody_uses_is_closed_with_a_sentence(server):
    with pytest.raises(StanceError, match="nothing was saved.*Run the command again"):
        server.wait(idle_s=0.1)
    server.session.saved = True
    server.wait(idle_s=0.1)
