"""Who counts as a player: those whose feet stand on a half court."""

import numpy as np

from stance.court.camera import Camera, floor_point, project
from stance.court.dimensions import COURT_LENGTH, COURT_WIDTH
from stance.people.landmarks import FEET, NOSE
from stance.people.settings import SETTINGS
from stance.people.track import Track
from stance.types import FloatArray

# Doubles: a half court holds two players.
MOST_PLAYERS = 2


def stands_on_half(camera: Camera, pixels: FloatArray, margin_m: float) -> bool:
    """Tell whether a pose is a player on the half court `y < 0` of the camera's frame.

    The feet must be on the half (or so far beside it) and the nose as high above them
    as a person's is.

    Parameters
    ----------
    camera
        in the frame of the half that is asked about
    pixels
        (33, 2) pixels
    margin_m
        how far outside the lines the feet may be
    """
    base = _base(camera, pixels)
    if not np.isfinite(base).all():
        return False
    least, greatest = SETTINGS.half_court.nose_heights_m
    return on_half(base, margin_m) and bool(
        least <= height_over(camera, base, pixels[NOSE]) <= greatest
    )


def plays_on_half(camera: Camera, track: Track) -> bool:
    """Tell whether somebody stands on the half court `y < 0` on the whole.

    Who stands beside it may lunge onto it, and is no player.

    Parameters
    ----------
    camera
        in the frame of the half that is asked about
    track
        one player's poses through the clip
    """
    places = _base(camera, track.pixels[track.seen])
    return bool(len(places)) and on_half(
        np.nanmedian(places, axis=0), SETTINGS.half_court.margin_found_m
    )


def on_half(base: FloatArray, margin_m: float) -> bool:
    """Tell whether a place on the floor is on the half court `y < 0`, or at most so far beside it.

    Parameters
    ----------
    base
        (2,) or (3,) metres, in the frame of the half's camera
    margin_m
        how far outside the lines it may be
    """
    return bool(
        abs(base[0]) <= COURT_WIDTH / 2 + margin_m
        and -COURT_LENGTH / 2 - margin_m <= base[1] <= 0.0
    )


def height_over(camera: Camera, base: FloatArray, pixel: FloatArray) -> float:
    """Height at which the vertical line over a place on the floor passes a pixel best.

    Parameters
    ----------
    camera
        in the frame of the half that is asked about
    base
        (3,) metres
    pixel
        (2,) pixels

    Returns
    -------
    metres
    """
    above = base + (0.0, 0.0, 1.0)
    foot, head = project(camera, np.stack([base, above]))
    up = head - foot
    # One metre up is `up` pixels near the floor; perspective makes the next one differ, which
    # a second step from the height found first takes in.
    height = float((pixel - foot) @ up / (up @ up))
    near = project(camera, base + (0.0, 0.0, height))
    slope = project(camera, base + (0.0, 0.0, height + 0.1)) - near
    return height + 0.1 * float((pixel - near) @ slope / (slope @ slope))


def _base(camera: Camera, pixels: FloatArray) -> FloatArray:
    """Midpoint of the feet on the floor, (..., 3) metres, of poses (..., 33, 2) pixels."""
    return np.asarray(floor_point(camera, pixels[..., list(FEET), :]).mean(axis=-2))
