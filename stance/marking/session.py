"""One coach's marking of one clip: what the page asks and sends, and whether it is over."""

import json
import threading
import time
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

import cv2

from stance.court.contradictions import MisfitPointError
from stance.court.court_file import (
    SCHEMA,
    MarkedCourt,
    check_court,
    court_file_text,
    read_court_file,
    round_marks,
)
from stance.errors import InputError, StanceError
from stance.marking.page import (
    are_laid,
    describe_court,
    describe_fit,
    describe_marks,
    describe_misfit,
)
from stance.marking.task import MarkingTask
from stance.marking.words import list_page_words
from stance.results.files import write_files
from stance.runtime.language import gettext as _
from stance.runtime.language import shown_language

JPEG_QUALITY = 93

# Both halves have 30 crossings.
MOST_MARKS = 60

# A page that was left after saving and is not opened again within this time, seconds, is done.
LEAVING_S = 3.0


@dataclass(frozen=True)
class Content:
    """What the page gets: its kind, as HTTP names it, and the bytes."""

    kind: str
    data: bytes


class MarkingSession:
    """Answers the page of one task.

    Attributes
    ----------
    task
        what is marked.
    saved
        whether the court file was written.
    last_asked
        when the page last asked for something, on the monotonic clock.
    over
        set once the file is saved and the page was closed.
    """

    def __init__(self, task: MarkingTask) -> None:
        self.task = task
        self.saved = False
        self.last_asked = time.monotonic()
        self.over = threading.Event()
        self._leaving: threading.Timer | None = None
        self._lock = threading.Lock()
        done, jpeg = cv2.imencode(
            ".jpg",
            cv2.cvtColor(task.background, cv2.COLOR_RGB2BGR),
            [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY],
        )
        assert done
        page = (files("stance.marking") / "templates" / "marking.html").read_bytes()
        self._page = Content("text/html; charset=utf-8", page)
        self._picture = Content("image/jpeg", jpeg.tobytes())

    def get(self, part: str) -> Content | None:
        """Return what the page asks for; None where there is no such thing."""
        self.stay()
        self.last_asked = time.monotonic()
        if part == "":
            return self._page
        if part == "background.jpg":
            return self._picture
        if part == "state":
            return Content("application/json", json.dumps(self._describe_state()).encode())
        return None

    def post(self, part: str, body: bytes) -> dict[str, Any] | None:
        """Return the answer to what the page sends; None where there is no such thing.

        Raises
        ------
        ValueError, RecursionError
            For marks that are no JSON.
        """
        self.last_asked = time.monotonic()
        if part in ("fit", "save"):
            content = json.loads(body)
            try:
                marked = self._read_marks(content)
                return self._answer_marks(part, marked)
            except StanceError as error:
                return {"ok": False, "text": str(error)}
        if part == "leave":
            self._leave()
        elif part != "done":
            return None
        return {"ok": True}

    def _answer_marks(self, part: str, marked: MarkedCourt) -> dict[str, Any]:
        """What follows from marks, after saving them where that was asked for."""
        try:
            return describe_fit(marked) if part == "fit" else self._save(marked)
        except MisfitPointError as error:
            return describe_misfit(error, marked)

    def finish(self, part: str) -> None:
        """End the session if it was the last answer that has gone out."""
        if part == "done" and self.saved:
            self.over.set()

    def stay(self) -> None:
        """Take back that the page was left."""
        with self._lock:
            if self._leaving is not None:
                self._leaving.cancel()
                self._leaving = None

    def _leave(self) -> None:
        """End the session in a while, unless the page comes back; without marks it goes on."""
        if not self.saved:
            return
        self.stay()
        with self._lock:
            self._leaving = threading.Timer(LEAVING_S, self.over.set)
            self._leaving.daemon = True
            self._leaving.start()

    def _describe_state(self) -> dict[str, Any]:
        """What the page begins with."""
        task = self.task
        start, is_found = task.start, task.is_found
        if self.saved:
            start, is_found = read_court_file(task.court_file, task.image_size), False
        points = [] if start is None else describe_marks(start)
        is_found = is_found or (start is not None and are_laid(start))
        return {
            "clip": task.clip.name,
            "image_size": task.image_size,
            "court_file": task.court_file.name,
            "found": points if is_found else [],
            "marks": [] if is_found else points,
            "saved": self.saved,
            "language": shown_language(),
            "words": list_page_words(),
            **describe_court(),
        }

    def _read_marks(self, content: Any) -> MarkedCourt:
        """Check the marks that the page sends, rounded as they will be saved."""
        points = content.get("points") if isinstance(content, dict) else None
        if isinstance(points, list) and len(points) > MOST_MARKS:
            raise InputError(
                _("{number} points are marked; {most} are enough.").format(
                    number=len(points), most=MOST_MARKS
                )
            )
        court = {"schema": SCHEMA, "image_size": list(self.task.image_size), "points": points}
        return round_marks(check_court(court, self.task.court_file, self.task.image_size))

    def _save(self, marked: MarkedCourt) -> dict[str, Any]:
        """Write the court file, if the marks fit together."""
        fit = describe_fit(marked)
        court_file = self.task.court_file
        write_files(court_file.parent, {court_file.name: court_file_text(marked)})
        self.saved = True
        return {**fit, "file": str(court_file), "next": self.task.next_command}
