"""What the second way's camera makes of a developed picture, unlike `stills.phone_picture`."""

import cv2
import numpy as np

from tests.rendering.arrays import FloatArray, Picture


def developed(rng: np.random.Generator, picture: Picture) -> Picture:
    """Blurred by a hand or a lens, grainy, sharpened with halos, its colours coarse, compressed.

    Parameters
    ----------
    picture : (h, w, 3) RGB
    """
    image = picture.astype(np.float32)
    if rng.uniform() < 0.5:
        image = _smeared(image, rng.uniform(1.0, 3.5), rng.uniform(0.0, np.pi))
    image = cv2.GaussianBlur(image, (0, 0), float(rng.uniform(0.4, 1.0)))
    grey = image.mean(axis=2, keepdims=True)
    image = grey + (image - grey) * rng.uniform(0.55, 1.15)
    image = 128.0 + (image - 128.0) * rng.uniform(0.75, 1.15) + rng.uniform(-18.0, 18.0)
    grain = rng.standard_normal((*image.shape[:2], 1)) * rng.uniform(0.0, 7.0)
    stains = cv2.GaussianBlur(rng.standard_normal(image.shape), (0, 0), 1.5)
    image = image + grain + stains * rng.uniform(0.0, 12.0)
    halo = rng.uniform(0.0, 1.2)
    image = image + halo * (image - cv2.GaussianBlur(image, (0, 0), 1.4))
    whole = np.clip(image, 0, 255).astype(np.uint8)
    quality = [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(25, 90))]
    coded = cv2.imencode(".jpg", whole[..., ::-1], quality)[1]
    return np.ascontiguousarray(cv2.imdecode(coded, cv2.IMREAD_COLOR)[..., ::-1])


def _smeared(image: FloatArray, length: float, angle: float) -> FloatArray:
    """The picture as a shutter that stays open smears it, `length` pixels along an angle."""
    steps = np.linspace(-0.5, 0.5, 7) * length
    size = (image.shape[1], image.shape[0])
    shifts = [np.float32([[1, 0, s * np.cos(angle)], [0, 1, s * np.sin(angle)]]) for s in steps]
    moved = [
        cv2.warpAffine(image, shift, size, borderMode=cv2.BORDER_REPLICATE) for shift in shifts
    ]
    return np.mean(moved, axis=0)
