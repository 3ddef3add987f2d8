"""Which of the judged readings is the court, and how sure that is."""

from typing import Literal

import numpy as np

from stance.court.camera import Camera, floor_point, project
from stance.court.detection.judging import JudgedReading
from stance.court.dimensions import COURT_LENGTH, COURT_WIDTH
from stance.court.floor_error import on_floor
from stance.types import FloatArray


def is_sound(reading: JudgedReading) -> bool:
    """Whether a reading could be a court at all: two lines each way, most of what it claims."""
    along, across, tape = reading.lines_along, reading.lines_across, reading.tape
    share = reading.explained / max(reading.explained + reading.missing, 1e-9)
    if across == 1 and tape.share is not None and tape.share > 0.8:
        # The net's tape, where nothing else on the court is left unexplained, is a line across.
        across += int(tape.length > 0.1 and reading.stray < 0.15 * reading.explained)
    # Two lines each way fit many a rectangle, such as other sports': they must leave little over.
    if along + across == 4 and reading.stray > 0.3 * reading.explained:
        return False
    return along >= 2 and across >= 2 and share > 0.5 and reading.score > 0.5


def choose_reading(sound: list[JudgedReading], feet: FloatArray) -> JudgedReading:
    """The best reading or, of courts beside each other, the one that is played on.

    That is the one whose net hangs where it belongs, if the best one's is missing there; otherwise
    the one on which most people stand.

    Parameters
    ----------
    sound
        one or more, the best first.
    feet
        (n, 2) pixels where people stand.
    """
    best = sound[0]
    beside = [best] + [
        other for other in sound[1:] if relate_courts(best.camera, other.camera) == "beside"
    ]
    with_net = [
        other for other in beside if other.tape.share is not None and other.tape.share > 0.8
    ]
    if best.tape.share is not None and best.tape.share < 0.4 and with_net:
        return with_net[0]
    return beside[int(np.argmax([count_on_court(other.camera, feet) for other in beside]))]


def count_on_court(camera: Camera, feet: FloatArray) -> int:
    """How many of the pixels (n, 2) lie on the court or just beside it."""
    places = floor_point(camera, feet)[:, :2]
    with np.errstate(invalid="ignore"):
        on = (np.abs(places) < np.array([COURT_WIDTH, COURT_LENGTH]) / 2 + 0.3).all(axis=1)
    return int(on.sum())


def relate_courts(first: Camera, second: Camera) -> Literal["same", "beside", "other"]:
    """Whether two cameras mean the "same" court, a court "beside" it, or the floor "other"-wise.

    They mean the same where places on the floor agree within 0.15 m, after a turn by 180 degrees
    where needed; a court beside it is shifted by more than its own width or length.

    Parameters
    ----------
    first, second
        of the same picture; places are those that the first one shows
    """
    size = np.array(first.image_size)
    grid = np.array([[x, y] for x in np.linspace(-3, 3, 7) for y in np.linspace(-6.5, 6.5, 11)])
    with np.errstate(invalid="ignore"):
        pixels = project(first, on_floor(grid))
        inside = (pixels > 0).all(axis=1) & (pixels < size).all(axis=1)
    if inside.sum() < 3:
        return "other"
    places = floor_point(second, pixels[inside])[:, :2]
    if not np.isfinite(places).all():
        return "other"
    for sign in (1.0, -1.0):
        shift = places - sign * grid[inside]
        middle = np.median(shift, axis=0)
        scatter = np.median(np.linalg.norm(shift - middle, axis=1))
        if np.linalg.norm(middle) < 0.15 and scatter < 0.15:
            return "same"
        beside = abs(middle[0]) > COURT_WIDTH + 0.15 or abs(middle[1]) > COURT_LENGTH + 0.15
        if beside and scatter < 0.5:
            return "beside"
    return "other"


def estimate_confidence(best: JudgedReading, judged: list[JudgedReading]) -> float:
    """How sure a reading is, 0 to 1: what it explains, and how far ahead of others it is.

    Parameters
    ----------
    judged
        all readings, of which those that mean another court than the best are its rivals.
    """
    if best.score <= 0:
        # It speaks as much against itself as for.
        return 0.0
    rivals = [
        other
        for other in judged
        if relate_courts(best.camera, other.camera)
        == relate_courts(other.camera, best.camera)
        == "other"
    ]
    # What could not be claimed by itself, for all it leaves unexplained, is a rival in part only.
    rival = max((other.score * (0.5 + 0.5 * _rate_share(other)) for other in rivals), default=0.0)
    lead = best.score - max(rival, 0.0)
    by_lead = np.clip(max(lead / best.score / 0.2, lead / 0.4), 0, 1)
    tape = best.tape
    net = 1.0 if tape.share is None or tape.share > 0.5 or tape.length < 0.1 else 0.6
    return float(min(_rate_share(best), by_lead) * net)


def _rate_share(reading: JudgedReading) -> float:
    """How sure a reading is, 0 to 1, by the share of the picture's lines that it explains."""
    whole = reading.explained + reading.missing + 0.5 * reading.stray
    share = reading.explained / max(whole, 1e-9)
    return float(np.clip((share - 0.6) / 0.3, 0, 1))
