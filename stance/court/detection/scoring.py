"""Scores: how much of a picture's stripes a reading explains, and how much it leaves over."""

import cv2
import numpy as np
from numpy.typing import NDArray

from stance.court.detection.axes import CourtAxes, locate_on_axes
from stance.court.detection.line_samples import LINE_MIDDLES, find_places_without_line
from stance.court.detection.stripes import SAMPLES_PER_STRIPE, Stripes, sample_stripes
from stance.court.dimensions import LINE_WIDTH
from stance.types import FloatArray


def map_distance(stripes: Stripes, image_size: tuple[int, int]) -> NDArray[np.float32]:
    """How far each pixel is from the nearest stripe's middle line.

    Returns
    -------
    (height // 2 + 1, width // 2 + 1) pixels of the whole picture, for every second one.
    """
    width, height = image_size
    drawn = np.full((height // 2 + 1, width // 2 + 1), 255, np.uint8)
    for first, second in stripes.ends / 2:
        start, stop = (tuple(int(round(v * 16)) for v in end - 0.5) for end in (first, second))
        cv2.line(drawn, start, stop, 0, 1, shift=4)
    # Where no stripe is in the picture, OpenCV says the largest number there is.
    distance = np.minimum(cv2.distanceTransform(drawn, cv2.DIST_L2, 3), width + height)
    return np.asarray(2 * distance, np.float32)


def score_readings(
    axes: CourtAxes,
    readings: FloatArray,
    distances: tuple[NDArray[np.float32], NDArray[np.float32]],
    image_size: tuple[int, int],
) -> FloatArray:
    """How much of the court's lines is where stripes are, less what is not.

    Parameters
    ----------
    readings
        (n, 4) scale and offset of x, scale and offset of y, on the axes.
    distances
        as of `map_distance`, to the stripes that run along y and to those along x.
    image_size
        (width, height), pixels.

    Returns
    -------
    (n,) lengths of court lines in the picture's long sides.
    """
    to_pixels = np.linalg.inv(axes.to_floor).astype(np.float32)
    long_side = np.float32(max(image_size))
    middles, directions = LINE_MIDDLES.places, LINE_MIDDLES.directions
    along_y = np.abs(directions[:, 1]) > 0.5
    ends = [(middles + side * 0.125 * directions).astype(np.float32) for side in (-1, 1)]
    ends.append((middles + LINE_WIDTH * np.roll(directions, 1, 1)).astype(np.float32))
    tolerance = np.float32(4.5 * long_side / 1280)
    scores = []
    for start in range(0, len(readings), 500):
        part = readings[start : start + 500].astype(np.float32)
        shown = []
        for places in ends:
            u = places[:, 0] * part[:, :1] + part[:, 1:2]
            v = places[:, 1] * part[:, 2:3] + part[:, 3:]
            x, y, w = (row[0] * u + row[1] * v + row[2] for row in to_pixels)
            # (u, v, 1) comes from a positive multiple of a pixel in front of the camera.
            w = np.where(w > 1e-6, w, np.float32(np.nan))
            shown.append((x / w, y / w))
        (x0, y0), (x1, y1), (x2, y2) = shown
        x, y = (x0 + x1) / 2, (y0 + y1) / 2
        with np.errstate(invalid="ignore"):
            inside = (x > 2) & (x < image_size[0] - 2) & (y > 2) & (y < image_size[1] - 2)
            whole = np.hypot(x1 - x0, y1 - y0)
            width = np.abs((x2 - x) * (y1 - y0) - (y2 - y) * (x1 - x0)) / whole
            length = np.minimum(whole, np.float32(0.08) * long_side)
            # Lines too thin to be seen for sure say less, whether they are found or not.
            length *= np.clip(width - np.float32(0.5), 0, 1)
        length = np.where(inside, length, np.float32(0)) / long_side
        column = np.where(inside, x / 2, 0).astype(np.intp)
        row = np.where(inside, y / 2, 0).astype(np.intp)
        distance = np.where(along_y, distances[0][row, column], distances[1][row, column])
        hit = np.clip(np.float32(1.5) - distance / tolerance, 0.0, 1.0)
        scores.append(np.sum(length * (1.8 * hit - 0.8), axis=1))
    return np.concatenate(scores).astype(float) if scores else np.zeros(0)


def measure_stray_length(
    axes: CourtAxes, readings: FloatArray, stripes: Stripes, image_size: tuple[int, int]
) -> FloatArray:
    """Length of stripes on the court that readings leave unexplained.

    Parameters
    ----------
    readings
        (n, 4) as for `score_readings`.
    image_size
        (width, height), pixels.

    Returns
    -------
    (n,) in the picture's long sides.
    """
    marks = locate_on_axes(axes, sample_stripes(stripes)).reshape(-1, 2)
    weight = np.repeat(stripes.length / SAMPLES_PER_STRIPE, SAMPLES_PER_STRIPE) / max(image_size)
    usable = np.isfinite(marks).all(axis=1)
    court = (marks[usable][None] - readings[:, None, [1, 3]]) / readings[:, None, [0, 2]]
    stray = find_places_without_line(court, 0.15, 0.25)
    return np.asarray(np.where(stray, weight[usable], 0.0).sum(axis=1))
