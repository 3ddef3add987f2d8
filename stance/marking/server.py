"""Serves the marking page: a coach marks the court in the clip's background picture, in a browser.

The page is served on this computer's own address only, under an address that nobody can guess,
and asks for nothing from elsewhere. The camera is solved by `stance.court.calibration`, as it is
for a court file.
"""

import json
import re
import secrets
import socket
import sys
import threading
import time
from contextlib import suppress
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from stance.errors import StanceError
from stance.marking.session import Content, MarkingSession
from stance.marking.task import MarkingTask
from stance.runtime.language import format_number
from stance.runtime.language import gettext as _

LOOPBACK = "127.0.0.1"

# More than any set of marks takes.
MOST_BYTES = 100_000

# A connection is for one request, and is cut after so long, however slowly it sends.
CONNECTION_S = 20.0

# A browser asks for a few things at a time.
MOST_CONNECTIONS = 32

# A page that asked for nothing for so long is forgotten.
IDLE_S = 600.0

_HEADERS = {
    "Connection": "close",
    "Cache-Control": "no-store",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "Content-Security-Policy": (
        "default-src 'none'; img-src 'self' data:; connect-src 'self'; "
        "style-src 'unsafe-inline'; script-src 'unsafe-inline'; base-uri 'none'; "
        "form-action 'none'; frame-ancestors 'none'"
    ),
}

_NOTHING = Content("text/plain", b"")


class MarkingServer:
    """Serves the marking page of one task, used in a `with` statement.

    Attributes
    ----------
    address
        of the page, with its secret part.
    session
        what was marked and saved.
    """

    def __init__(self, task: MarkingTask) -> None:
        self.session = MarkingSession(task)
        self._http = _HttpServer(self.session)
        self.address = f"{self._http.origin}/{self._http.token}/"
        self._thread = threading.Thread(target=self._http.serve_forever, args=(0.05,), daemon=True)

    def __enter__(self) -> "MarkingServer":
        """Start to serve."""
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        """Stop to serve."""
        self.session.stay()
        self._http.shutdown()
        self._http.server_close()

    def wait(self, idle_s: float = IDLE_S) -> None:
        """Wait until the coach is done: the file is saved and the page was closed.

        Raises
        ------
        StanceError
            The page asked for nothing for so many seconds, and nothing was saved.
        """
        # In steps, so that Ctrl-C is heard on every system.
        while not self.session.over.wait(0.2):
            if time.monotonic() - self.session.last_asked < idle_s:
                continue
            if self.session.saved:
                return
            raise StanceError(
                _(
                    "The marking page was not used for {minutes} minutes and nothing was saved, so "
                    "it was closed. Run the command again to mark the court."
                ).format(minutes=format_number(idle_s / 60))
            )


class _HttpServer(ThreadingHTTPServer):
    """Listens on this computer's own address, under a secret token."""

    daemon_threads = True

    def __init__(self, session: MarkingSession) -> None:
        super().__init__((LOOPBACK, 0), _RequestHandler)
        self.session = session
        self.token = secrets.token_urlsafe(24)
        self._free = threading.BoundedSemaphore(MOST_CONNECTIONS)

    def process_request(self, request: Any, client_address: Any) -> None:
        """Answer in a thread of its own, or hang up where too many are answered already."""
        if not self._free.acquire(blocking=False):
            self.shutdown_request(request)
            return
        super().process_request(request, client_address)

    def process_request_thread(self, request: Any, client_address: Any) -> None:
        """Answer one connection, which is cut when its time is over."""
        end = threading.Timer(CONNECTION_S, _cut, (request,))
        end.daemon = True
        end.start()
        try:
            super().process_request_thread(request, client_address)
        finally:
            end.cancel()
            self._free.release()

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Say nothing of a client that left; a fault of the tool shows as ever."""
        if not isinstance(sys.exc_info()[1], OSError):
            super().handle_error(request, client_address)

    @property
    def origin(self) -> str:
        """Scheme, host and port of the page."""
        return f"http://{LOOPBACK}:{self.server_port}"


def _cut(connection: socket.socket) -> None:
    """End a connection, whoever waits for it."""
    with suppress(OSError):
        connection.shutdown(socket.SHUT_RDWR)


class _RequestHandler(BaseHTTPRequestHandler):
    """Hands requests with the secret token to the session, and answers no others."""

    protocol_version = "HTTP/1.1"
    timeout = CONNECTION_S
    server: _HttpServer

    def do_GET(self) -> None:
        """Send what the page asks for."""
        part = self._requested_part()
        content = None if part is None else self.server.session.get(part)
        if content is None:
            self._send(HTTPStatus.NOT_FOUND, _NOTHING)
        else:
            self._send(HTTPStatus.OK, content)

    def do_POST(self) -> None:
        """Answer what the page sends."""
        part = self._requested_part()
        if part is None:
            self._send(HTTPStatus.NOT_FOUND, _NOTHING)
            return
        length = self.headers.get("Content-Length", "")
        # No more digits than the limit has: int() refuses very long numbers.
        if not re.fullmatch(r"[0-9]{1,6}", length) or int(length) > MOST_BYTES:
            self._send(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, _NOTHING)
            return
        body = self.rfile.read(int(length))
        try:
            answer = self.server.session.post(part, body)
        except (ValueError, RecursionError):
            self._send(HTTPStatus.BAD_REQUEST, _NOTHING)
            return
        if answer is None:
            self._send(HTTPStatus.NOT_FOUND, _NOTHING)
        else:
            self._send(HTTPStatus.OK, Content("application/json", json.dumps(answer).encode()))
            self.server.session.finish(part)

    def _requested_part(self) -> str | None:
        """The part of the address after the secret token; None for what is not for this server.

        A request must name this server, not another name that leads to it, and must not come
        from another site's page.
        """
        origin = self.server.origin
        if self.headers.get("Host") != origin.removeprefix("http://"):
            return None
        if self.headers.get("Origin") not in (None, origin):
            return None
        token, slash, part = self.path.removeprefix("/").partition("/")
        if slash and secrets.compare_digest(token.encode(), self.server.token.encode()):
            return part.partition("?")[0]
        return None

    def _send(self, status: HTTPStatus, content: Content) -> None:
        self.send_response(status)
        self.send_header("Content-Type", content.kind)
        self.send_header("Content-Length", str(len(content.data)))
        for name, value in _HEADERS.items():
            self.send_header(name, value)
        self.end_headers()
        self.wfile.write(content.data)

    def log_message(self, format: str, *args: Any) -> None:
        """Say nothing: the address is secret."""
