"""Which hand holds the racket, as a picture shows it: a small network compares the two hands.

Landmarks tell which hand moves, but in a clip from the side the racket arm is behind the body, and
where the model puts it is a guess. The racket itself can often be seen. The network takes a square
around each hand, the left one mirrored, and predicts of each how much it looks like a hand that
holds a racket; only the difference counts, so neither side is favoured (`tests/training/rackets`).
"""

import cv2
import numpy as np

from stance.people.landmarks import (
    LEFT_INDEX,
    LEFT_PINKY,
    LEFT_WRIST,
    RIGHT_INDEX,
    RIGHT_PINKY,
    RIGHT_WRIST,
    Pose,
)
from stance.runtime.model_files import network_bytes
from stance.types import ImageArray

PATCH_PIXELS = 96
"""Side of a square in pixels."""

_PATCH_SHARE = 0.8
"""Side of a square against the larger extent of the player in the picture: a racket held out of
the hand is in it."""

_HANDS = ((LEFT_WRIST, LEFT_PINKY, LEFT_INDEX), (RIGHT_WRIST, RIGHT_PINKY, RIGHT_INDEX))

NETWORK_FILE = "racket.onnx"

CHECKSUM_FILE = "racket.json"


def hand_patches(image: ImageArray, pose: Pose) -> ImageArray:
    """Cut out the squares around the left and the right hand, the left one mirrored.

    Parameters
    ----------
    image
        (height, width, 3) RGB
    pose
        of the player in the image

    Returns
    -------
    (2, 96, 96, 3) RGB
    """
    side = _PATCH_SHARE * float(np.ptp(pose.pixels, axis=0).max())
    zoom = PATCH_PIXELS / max(side, 1.0)
    # A picture that shrinks is smoothed first, so that thin frames don't break into dots.
    blurred = cv2.GaussianBlur(image, (0, 0), 0.4 / zoom) if zoom < 0.8 else image
    patches = []
    for hand in _HANDS:
        # OpenCV counts from the middle of the top left pixel.
        corner = (PATCH_PIXELS - 1) / 2.0 - zoom * (pose.pixels[list(hand)].mean(axis=0) - 0.5)
        place = np.array([[zoom, 0.0, corner[0]], [0.0, zoom, corner[1]]])
        patches.append(
            cv2.warpAffine(
                blurred,
                place,
                (PATCH_PIXELS, PATCH_PIXELS),
                flags=cv2.INTER_LINEAR,
                borderMode=cv2.BORDER_REPLICATE,
            )
        )
    return np.stack([patches[0][:, ::-1], patches[1]]).astype(np.uint8)


class RacketNetwork:
    """The network, loaded; one for each thread that uses it.

    Raises
    ------
    StanceError
        If its file is missing or damaged.
    """

    def __init__(self) -> None:
        data = np.frombuffer(network_bytes(NETWORK_FILE, CHECKSUM_FILE), np.uint8)
        self._network = cv2.dnn.readNetFromONNX(data)

    def predict(self, patches: ImageArray) -> float:
        """Tell how much more the right hand looks like the racket hand than the left one.

        Parameters
        ----------
        patches
            (2, 96, 96, 3) RGB As `hand_patches` gives them.

        Returns
        -------
        Logarithm of the odds that the racket is in the right hand, of this picture alone
        """
        values = np.ascontiguousarray(patches.transpose(0, 3, 1, 2), np.float32) / 255.0
        self._network.setInput(values)
        left, right = self._network.forward().ravel()
        return float(right - left)
