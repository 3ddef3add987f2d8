"""Chromium without a window, driven through the Chrome DevTools Protocol."""

import base64
import json
import os
import shutil
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import websocket

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
START_S = 60.0
ANSWER_S = 30.0


def chromium() -> str:
    """Where Chromium or Chrome is; the variable CHROMIUM names another place."""
    found = os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, NAMES)), None)
    if found is None:
        raise RuntimeError(
            "The marking page is tested in Chromium, which is missing. On Debian and Ubuntu: "
            "sudo apt-get install chromium. Elsewhere set CHROMIUM to where Chrome is."
        )
    return found


@contextmanager
def browser() -> Iterator[str]:
    """A running Chromium; gives the address under which it is driven."""
    with TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        process = subprocess.Popen(
            [
                chromium(),
                "--headless=new",
                "--no-sandbox",
                "--disable-gpu",
                "--no-first-run",
                "--disable-dev-shm-usage",
                "--disable-background-networking",
                "--remote-debugging-port=0",
                f"--user-data-dir={profile}",
                "about:blank",
            ],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        try:
            yield _address(process, Path(profile) / "DevToolsActivePort")
        finally:
            process.terminate()
            process.wait()


def _address(process: subprocess.Popen[bytes], port_file: Path) -> str:
    deadline = time.monotonic() + START_S
    while time.monotonic() < deadline:
        lines = port_file.read_text().split() if port_file.exists() else []
        if len(lines) == 2:
            return f"ws://127.0.0.1:{lines[0]}{lines[1]}"
        if process.poll() is not None:
            break
        time.sleep(0.05)
    raise RuntimeError(f"Chromium did not start (exit code {process.poll()}).")


class Page:
    """One tab with a picture of its own size; requests that it makes are in `requests`."""

    def __init__(
        self, address: str, size: tuple[int, int], phone: bool = False, dark: bool = False
    ) -> None:
        self._socket = websocket.create_connection(address, timeout=ANSWER_S, suppress_origin=True)
        self._number = 0
        self._session = ""
        self.requests: list[str] = []
        self.errors: list[str] = []
        context = self.send("Target.createBrowserContext")["browserContextId"]
        target = self.send("Target.createTarget", url="about:blank", browserContextId=context)
        self._session = self.send(
            "Target.attachToTarget", targetId=target["targetId"], flatten=True
        )["sessionId"]
        for domain in ("Page", "Runtime", "Network"):
            self.send(f"{domain}.enable")
        self.send(
            "Emulation.setDeviceMetricsOverride",
            width=size[0],
            height=size[1],
            deviceScaleFactor=2 if phone else 1,
            mobile=phone,
        )
        self.send("Emulation.setTouchEmulationEnabled", enabled=phone)
        self.send(
            "Emulation.setEmulatedMedia",
            features=[{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}],
        )

    def send(self, method: str, **parameters: Any) -> dict[str, Any]:
        """Send a command and wait for its answer."""
        self._number += 1
        message = {"id": self._number, "method": method, "params": parameters}
        if self._session:
            message["sessionId"] = self._session
        self._socket.send(json.dumps(message))
        while True:
            answer = json.loads(self._socket.recv())
            if answer.get("id") == self._number:
                if "error" in answer:
                    raise RuntimeError(f"{method}: {answer['error']['message']}")
                return answer["result"]
            self._note(answer)

    def _note(self, event: dict[str, Any]) -> None:
        if event.get("method") == "Network.requestWillBeSent":
            self.requests.append(event["params"]["request"]["url"])
        elif event.get("method") == "Runtime.exceptionThrown":
            self.errors.append(json.dumps(event["params"]["exceptionDetails"])[:600])
        elif event.get("method") == "Page.javascriptDialogOpening":
            self._number += 1
            self._socket.send(
                json.dumps(
                    {
                        "id": self._number,
                        "method": "Page.handleJavaScriptDialog",
                        "params": {"accept": True},
                        "sessionId": self._session,
                    }
                )
            )

    def value(self, expression: str) -> Any:
        """What a JavaScript expression gives."""
        answer = self.send(
            "Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True
        )
        if "exceptionDetails" in answer:
            raise RuntimeError(f"{expression}: {answer['exceptionDetails']}")
        return answer["result"].get("value")

    def until(self, expression: str, seconds: float = ANSWER_S) -> Any:
        """Wait until an expression is true."""
        deadline = time.monotonic() + seconds
        while time.monotonic() < deadline:
            try:
                found = self.value(expression)
            except RuntimeError as problem:
                # While a page is left for another, the old one cannot be asked.
                if "navigated" not in str(problem):
                    raise
                found = None
            if found:
                return found
            time.sleep(0.03)
        raise AssertionError(f"not in {seconds} s: {expression}")

    def open(self, address: str) -> None:
        """Open an address and wait until the page is ready."""
        self.send("Page.navigate", url=address)
        self.until("document.body?.dataset.ready === 'yes' && document.readyState === 'complete'")

    def reload(self) -> None:
        """Load the page again."""
        self.value("document.body.dataset.ready = 'no'")
        self.send("Page.reload")
        self.until("document.body?.dataset.ready === 'yes' && document.readyState === 'complete'")

    def mouse(self, *places: tuple[float, float]) -> None:
        """Press at the first place, drag through the others, let go at the last."""
        x, y = places[0]
        self._mouse("mouseMoved", x, y)
        self._mouse("mousePressed", x, y)
        for x, y in places[1:]:
            self._mouse("mouseMoved", x, y)
        self._mouse("mouseReleased", x, y)

    def _mouse(self, kind: str, x: float, y: float) -> None:
        self.send(
            "Input.dispatchMouseEvent",
            type=kind,
            x=x,
            y=y,
            button="left",
            buttons=0 if kind == "mouseReleased" else 1,
            clickCount=1,
        )

    def touch(self, *places: tuple[float, float]) -> None:
        """The same with a finger."""
        for kind, (x, y) in zip(
            ["touchStart"] + ["touchMove"] * (len(places) - 1), places, strict=True
        ):
            self.send("Input.dispatchTouchEvent", type=kind, touchPoints=[{"x": x, "y": y}])
        self.send("Input.dispatchTouchEvent", type="touchEnd", touchPoints=[])

    def press(self, key: str, shift: bool = False, control: bool = False) -> None:
        """Press a key."""
        modifiers = 8 * shift + 2 * control
        for kind in ("keyDown", "keyUp"):
            self.send("Input.dispatchKeyEvent", type=kind, key=key, modifiers=modifiers)

    def picture(self, path: Path) -> None:
        """Save what the page shows."""
        path.write_bytes(base64.b64decode(self.send("Page.captureScreenshot")["data"]))

    def close(self) -> None:
        """End the connection."""
        self._socket.close()
