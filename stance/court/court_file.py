"""The coach's court file: marked points of the court, read, checked and written."""

import json
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np

from stance.court.dimensions import COURT_LENGTH, COURT_WIDTH
from stance.errors import InputError
from stance.types import FloatArray

SCHEMA = "stance-court/1"

OFF_COURT_TOLERANCE = 0.15


@dataclass(frozen=True)
class MarkedCourt:
    """Floor points that a coach marked in the picture.

    Attributes
    ----------
    image_size : (width, height) of the upright picture, pixels.
    court_points : (points, 2) metres, court frame.
    pixels : (points, 2).
    """

    image_size: tuple[int, int]
    court_points: FloatArray
    pixels: FloatArray


def read_court_file(path: str | Path, image_size: tuple[int, int]) -> MarkedCourt:
    """Read the points that a coach marked, schema "stance-court/1".

    Parameters
    ----------
    path : the court file.
    image_size : (width, height) of the clip's upright picture, pixels.

    Raises
    ------
    InputError
        If the file can't be read, is no court file, belongs to a picture of another size, or
        if its points are too few, not numbers, outside the picture, off the court, the same
        twice, or the first four lie three on a line.
    """
    return court_from_content(_read_json(Path(path)), path, image_size)


def court_from_content(
    content: object, path: str | Path, image_size: tuple[int, int]
) -> MarkedCourt:
    """Check what a court file holds, or is about to hold; the rest as for `read_court_file`."""
    if not isinstance(content, dict) or content.get("schema") != SCHEMA:
        raise InputError(
            f'"{path}" is not a court file: it does not begin with "schema": "{SCHEMA}".'
        )
    _check_image_size(path, content.get("image_size"), image_size)
    entries = content.get("points")
    if not isinstance(entries, list) or len(entries) < 4:
        found = len(entries) if isinstance(entries, list) else 0
        raise InputError(
            f'The court file "{path}" holds {found} points; mark at least four crossings of '
            "lines, better six or more."
        )
    points = np.array([_read_point(path, number, entry) for number, entry in enumerate(entries, 1)])
    marked = MarkedCourt(image_size, points[:, :2], points[:, 2:])
    _check_points(path, marked)
    return marked


def court_file_text(marked: MarkedCourt) -> str:
    """The text of a court file, schema "stance-court/1".

    Of all points the four that span the largest quadrangles come first: a file's first four must
    not lie three on a line. Court places are rounded to a millimetre, pixels to a hundredth.
    """
    order = list(range(len(marked.court_points)))
    fours = np.array(list(combinations(order, 4)))
    if len(fours):
        corners = marked.court_points[fours]
        areas = [
            np.abs(np.linalg.det(np.diff(np.delete(corners, left_out, axis=1), axis=1)))
            for left_out in range(4)
        ]
        first = [int(index) for index in fours[np.argmax(np.min(areas, axis=0))]]
        order = first + [index for index in order if index not in first]
    points = [
        {
            "court": [round(float(value), 3) for value in marked.court_points[index]],
            "pixel": [round(float(value), 2) for value in marked.pixels[index]],
        }
        for index in order
    ]
    lines = ",\n  ".join(json.dumps(point) for point in points)
    return (
        f'{{"schema": "{SCHEMA}", "image_size": {json.dumps(list(marked.image_size))},\n'
        f' "points": [\n  {lines}]}}\n'
    )


def _read_json(path: Path) -> Any:
    try:
        return json.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        raise InputError(f'There is no court file "{path}"; check its name and folder.') from None
    except IsADirectoryError:
        raise InputError(f'"{path}" is a folder; give the court file itself.') from None
    except OSError as error:
        raise InputError(f'The court file "{path}" can\'t be read: {error.strerror}.') from None
    except (ValueError, RecursionError):
        raise InputError(
            f'"{path}" is not a court file: it is not JSON text, or it is cut off.'
        ) from None


def _check_image_size(path: str | Path, stated: Any, clip: tuple[int, int]) -> None:
    if not (
        isinstance(stated, list)
        and len(stated) == 2
        and all(isinstance(side, int) and not isinstance(side, bool) for side in stated)
    ):
        raise InputError(
            f'The court file "{path}" has no "image_size" of two whole numbers, such as '
            f"[{clip[0]}, {clip[1]}]."
        )
    if tuple(stated) == clip:
        return
    sentence = (
        f'The court file "{path}" was marked in a picture of {stated[0]} x {stated[1]} pixels, '
        f"but the clip's is {clip[0]} x {clip[1]}. "
    )
    if tuple(reversed(stated)) == clip:
        sentence += "Mark the points again in the picture turned upright."
    else:
        sentence += "Mark the points again in a picture of this clip."
    raise InputError(sentence)


def _read_point(path: str | Path, number: int, entry: Any) -> list[float]:
    """One point of a court file: court x, court y, pixel x, pixel y."""
    values: list[float] = []
    for key in ("court", "pixel"):
        pair = entry.get(key) if isinstance(entry, dict) else None
        if not isinstance(pair, list) or len(pair) != 2:
            raise InputError(
                f'Point {number} of the court file "{path}" has no "{key}" of two numbers.'
            )
        for value in pair:
            is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
            if not is_number or not abs(value) < 1e9:
                raise InputError(
                    f'Point {number} of the court file "{path}" has "{key}": {json.dumps(pair)}; '
                    "both must be plain numbers."
                )
            values.append(float(value))
    return values


def _check_points(path: str | Path, marked: MarkedCourt) -> None:
    width, height = marked.image_size
    reach = np.array([COURT_WIDTH, COURT_LENGTH]) / 2 + OFF_COURT_TOLERANCE
    for number, (place, pixel) in enumerate(
        zip(marked.court_points, marked.pixels, strict=True), 1
    ):
        if np.any(np.abs(place) > reach):
            raise InputError(
                f'Point {number} of the court file "{path}" is off the court: court '
                f"({place[0]:.2f}, {place[1]:.2f}), while the corners are at "
                f"({COURT_WIDTH / 2:.2f}, {COURT_LENGTH / 2:.2f}) metres from under the middle "
                "of the net."
            )
        if np.any(pixel < 0) or np.any(pixel > [width, height]):
            raise InputError(
                f'Point {number} of the court file "{path}" is outside the picture: pixel '
                f"({pixel[0]:.0f}, {pixel[1]:.0f}), while the picture is {width} x {height}."
            )
    for first, second in combinations(range(len(marked.pixels)), 2):
        apart = np.abs(marked.court_points[first] - marked.court_points[second]).max()
        pixels_apart = np.abs(marked.pixels[first] - marked.pixels[second]).max()
        if apart < 0.005 or pixels_apart < 0.5:
            what = "court place" if apart < 0.005 else "pixel"
            raise InputError(
                f'Points {first + 1} and {second + 1} of the court file "{path}" have the same '
                f"{what}; mark each point once."
            )
    on_a_line = three_on_a_line(marked.court_points[:4])
    if on_a_line is not None:
        first, second, third = (index + 1 for index in on_a_line)
        raise InputError(
            f'Points {first}, {second} and {third} of the court file "{path}" lie on one line. '
            "Let the first four be corners of a large rectangle on the court, such as the four "
            "corners of one half."
        )


def three_on_a_line(four: FloatArray) -> tuple[int, int, int] | None:
    """Which three of four court points (4, 2) lie within 0.1 m of one line, if any do."""
    for triple in combinations(range(4), 3):
        first, second, third = four[list(triple)]
        longest = max(np.linalg.norm(a - b) for a, b in combinations(four[list(triple)], 2))
        (a, b), (c, d) = second - first, third - first
        if abs(a * d - b * c) < 0.1 * longest:
            return triple
    return None
