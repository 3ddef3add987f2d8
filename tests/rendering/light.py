"""Between linear light and the sRGB values of a picture."""

import numba
import numpy as np

from tests.rendering.arrays import FloatArray, Picture

ENCODING_STEPS = 8192


def linear(colour) -> FloatArray:
    """sRGB values in 0..1 to linear light (gamma 2.2)."""
    return np.asarray(colour, dtype=np.float64) ** 2.2


def _encoding_table() -> Picture:
    """8-bit sRGB of linear light in steps of 1 / ENCODING_STEPS, with soft highlights."""
    light = np.arange(2 * ENCODING_STEPS) / ENCODING_STEPS
    soft = np.where(light > 0.8, 0.8 + 0.2 * np.tanh((light - 0.8) / 0.2), light)
    return np.rint(255.0 * np.clip(soft, 0.0, 1.0) ** (1 / 2.2)).astype(np.uint8)


ENCODING_TABLE = _encoding_table()


def encode(image: FloatArray) -> Picture:
    """Linear light (h, w, 3) to 8-bit sRGB (gamma 2.2), with a soft shoulder for highlights."""
    return _look_up(image, ENCODING_TABLE)


@numba.njit(cache=True)
def _look_up(image, table):
    """Entries of the encoding table for each value of an image (h, w, 3)."""
    result = np.empty(image.shape, dtype=np.uint8)
    last = len(table) - 1
    for row in range(image.shape[0]):
        for column in range(image.shape[1]):
            for c in range(3):
                step = int(image[row, column, c] * ENCODING_STEPS)
                result[row, column, c] = table[min(max(step, 0), last)]
    return result
