"""Which of the judged readings is the court, and how sure that is."""

from typing import Literal

import numpy as np

from stance.court.camera import Camera, floor_point, project
from stance.court.detection.judging import JudgedReading
from stance.court.dimensions import COURT_LENGTH, COURT_WIDTH
from stance.court.floor_error import on_floor
from stance.types import BoolArray, FloatArray

_SHINS_TO_HIPS_M = (0.25, 0.5, 0.75, 1.0)
"""Heights of what else than feet may be the lowest of a player that is seen to move, metres."""


def is_sound(reading: JudgedReading) -> bool:
    """Whether a reading could be a court at all: two lines each way, most of what it claims."""
    along, across, tape = reading.lines_along, reading.lines_across, reading.tape
    share = reading.explained / max(reading.explained + reading.missing, 1e-9)
    if across == 1 and tape.share is not None and tape.share > 0.8:
        # The net's tape, where nothing else on the court is left unexplained, is a line across.
        across += int(tape.length > 0.1 and reading.stray < 0.15 * reading.explained)
    # Few lines fit many a rectangle, such as other sports', most of all where no net speaks for
    # them: they must leave little over and, of four, hardly one may be missing.
    few = 5 if tape.share is None else 4
    if along + across <= few and reading.stray > 0.3 * reading.explained:
        return False
    if along + across == 4 and reading.missing > 0.12 * reading.explained:
        return False
    return along >= 2 and across >= 2 and share > 0.5 and reading.score > 0.5


def choose_reading(sound: list[JudgedReading], feet: FloatArray) -> JudgedReading:
    """The best reading or, of courts beside each other, the one that is played on.

    That is the one on which most people stand, of those whose net is not missing where it belongs.

    Parameters
    ----------
    sound
        one or more.
    feet
        (n, 2) pixels where people stand.
    """
    best = max(sound, key=weigh)
    beside = [best] + [
        other for other in sound if relate_courts(best.camera, other.camera) == "beside"
    ]
    with_net = [court for court in beside if court.tape.share is None or court.tape.share > 0.4]
    courts = with_net or beside
    return courts[int(np.argmax([count_on_court(court.camera, feet) for court in courts]))]


def is_played_on(reading: JudgedReading, lowest: FloatArray) -> bool:
    """Whether the lowest of what moves, (n, 2) pixels, is somebody on the court or just beside it.

    Of somebody behind the net, or who hardly steps, that may be the hips. So where the net is seen
    places above the court count as well; without it that could be a neighbour's court in front.
    """
    if count_on_court(reading.camera, lowest):
        return True
    tape = reading.tape
    if tape.share is None or tape.share < 0.8 or tape.length < 0.1:
        return False
    return any(_is_on_court(reading.camera, lowest, up).any() for up in _SHINS_TO_HIPS_M)


def count_on_court(camera: Camera, feet: FloatArray) -> int:
    """How many of the pixels (n, 2) lie on the court or just beside it."""
    return int(_is_on_court(camera, feet, 0.0).sum())


def _is_on_court(camera: Camera, pixels: FloatArray, height: float) -> BoolArray:
    """Which of the pixels (n, 2) show the court or just beside it, or what is so high above."""
    places = floor_point(camera, pixels, height)[:, :2]
    with np.errstate(invalid="ignore"):
        on = np.abs(places) < np.array([COURT_WIDTH, COURT_LENGTH]) / 2 + 0.3
    return np.asarray(on.all(axis=1))


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
    rival = max((weigh(other) for other in rivals), default=0.0)
    lead = best.score - max(rival, 0.0)
    by_lead = np.clip(max(lead / best.score / 0.2, lead / 0.4), 0, 1)
    tape = best.tape
    net = 1.0 if tape.share is None or tape.share > 0.5 or tape.length < 0.1 else 0.6
    return float(min(_rate_share(best), by_lead) * net)


def weigh(reading: JudgedReading) -> float:
    """A reading's score, less by up to half for all that it leaves unexplained."""
    return reading.score * (0.5 + 0.5 * _rate_share(reading))


def _rate_share(reading: JudgedReading) -> float:
    """How sure a reading is, 0 to 1, by the share of the picture's lines that it explains."""
    # The net's tape where it belongs is explained like a line.
    tape = reading.tape.length * (reading.tape.share or 0.0)
    explained = reading.explained + tape
    share = explained / max(explained + reading.missing + 0.5 * reading.stray, 1e-9)
    return float(np.clip((share - 0.6) / 0.3, 0, 1))
