"""Orientation of hips, shoulders and feet: a network reads the player's rectified crop.

Landmarks alone do not tell where the hips face to better than 9 degrees; the picture tells more
(docs/accuracy.md). The network is the full pose model's own, trained on real people, fine-tuned
on rendered players whose truth is known (tests/training); OpenCV runs it. It takes a narrow
rectified crop (`stance.measures.rectified_crop`) and the mirror image of a wide one, so it favours
neither side, and predicts directions as the view sees them, feet in the picture, and its own
standard errors. Turning the court turns the answer exactly; nothing is assumed about where the
player faces.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from stance.court.camera import Camera, depth, floor_jacobian, floor_point
from stance.measures.network_outputs import (
    FACTORS_FILE,
    FEET_PLACES,
    combine_readings,
    rescale_to_usual,
    unmirror_predictions,
)
from stance.measures.rectified_crop import (
    RECTIFIED_FACTOR,
    RECTIFIED_PIXELS,
    rectified_camera,
    rectified_crop,
)
from stance.people.floor import feet_on_floor
from stance.people.landmarks import LEFT_HEEL, LEFT_TOE, RIGHT_HEEL, RIGHT_TOE, Pose, side_indices
from stance.runtime.model_files import network_bytes
from stance.types import FloatArray, Hand, ImageArray

WIDTHS = (1.15, 1.45)
"""How many times as large as the player the crop is, and the one whose mirror image is taken
(docs/accuracy.md tells what two widths are worth); predictions are about the usual width."""

NETWORK_FILE = "orientation.onnx"

_USUAL_SCALE = -4.7
"""Metres per pixel of a grown-up's crop, as a logarithm: the network's scale counts from here."""


@dataclass(frozen=True)
class Observation:
    """A close observation of a player in one frame.

    Attributes
    ----------
    pose
        Pose Landmarks, pixels of the picture.
    predictions
        (14,) what the network predicts, in the order of `TARGETS`
    errors
        (8,) standard errors in the order of `ERRORS`
    """

    pose: Pose
    predictions: FloatArray
    errors: FloatArray

    def moved(self, x: float, y: float) -> "Observation":
        """Return it for a picture whose top left corner lies at (-x, -y) of this one's, pixels."""
        return replace(self, pose=self.pose.moved(x, y))


@dataclass(frozen=True)
class Estimate:
    """What one observation tells; pairs are (racket, other) side.

    Attributes
    ----------
    hip_yaw, hip_yaw_se, shoulder_yaw, shoulder_yaw_se
        degrees
    feet
        (2, 2, 2) metres, court frame: foot, (heel, toe), (x, y)
    line_covariance
        (2, 2) square metres, of the line other foot -> racket foot
    base_covariance
        (2, 2) square metres, of the midpoint of the feet
    knee_flexion, knee_flexion_se
        (2,) degrees
    hips
        (2, 2) metres, court frame: side, (x, y)
    hip_width, leg_length
        metres
    """

    hip_yaw: float
    hip_yaw_se: float
    shoulder_yaw: float
    shoulder_yaw_se: float
    feet: FloatArray
    line_covariance: FloatArray
    base_covariance: FloatArray
    knee_flexion: FloatArray
    knee_flexion_se: FloatArray
    hips: FloatArray
    hip_width: float
    leg_length: float


class OrientationNetwork:
    """The network, loaded; one for each thread that uses it.

    Raises
    ------
    StanceError
        If its file is missing or damaged.
    """

    def __init__(self) -> None:
        data = np.frombuffer(network_bytes(NETWORK_FILE, FACTORS_FILE), np.uint8)
        self._network = cv2.dnn.readNetFromONNX(data)

    def _run(self, picture: ImageArray, elevation: float, scale: float) -> FloatArray:
        """Return predictions for one picture, (targets + errors,), the errors as logarithms."""
        size = np.log(scale) - _USUAL_SCALE
        geometry = np.array([[2.0 * np.sin(elevation), 2.0 * size, np.exp(size) - 1.0]], np.float32)
        values = np.ascontiguousarray(picture.transpose(2, 0, 1)[None], np.float32) / 255.0
        # The rectified crop, by the name that the file gives its input.
        self._network.setInput(values, "portrait")
        self._network.setInput(geometry, "geometry")
        return np.asarray(self._network.forward()[0], float)

    def read_twice(
        self,
        crops: Sequence[ImageArray],
        elevation: float,
        scale: float,
    ) -> FloatArray:
        """Read a crop, and the mirror image of another.

        Parameters
        ----------
        crops
            two rectified crops of one player, (256, 256, 3) RGB each, of the `WIDTHS`
        elevation
            radians at which the camera looks down on the player
        scale
            metres per pixel of a crop of the usual width, at the player's feet

        Returns
        -------
        (2, targets + errors), both readings as of a crop of the usual width, unmirrored, the
        errors as logarithms; pixels are those of a crop of the usual width
        """
        narrow, wide = (width / RECTIFIED_FACTOR for width in WIDTHS)
        upright = self._run(crops[0], elevation, scale * narrow)
        mirrored = self._run(crops[1][:, ::-1], elevation, scale * wide)
        return np.stack(
            [
                rescale_to_usual(upright, narrow),
                rescale_to_usual(unmirror_predictions(mirrored), wide),
            ]
        )


def observe(
    network: OrientationNetwork,
    image: ImageArray,
    pose: Pose,
    camera: Camera,
) -> Observation | None:
    """Observe a player closely.

    Parameters
    ----------
    network
        loaded once for many observations
    image
        (height, width, 3) RGB
    pose
        of the player in the image
    camera
        that took the image

    Returns
    -------
    Observation, or None where the feet are not seen on the floor
    """
    feet = floor_point(camera, pose.pixels[[LEFT_HEEL, RIGHT_HEEL, LEFT_TOE, RIGHT_TOE]])
    if not np.isfinite(feet).all():
        return None
    crop_camera = rectified_camera(camera, pose.pixels)
    scale = float(depth(crop_camera, feet.mean(axis=0))) / crop_camera.matrix[0, 0]
    crops = [
        rectified_crop(image, camera, rectified_camera(camera, pose.pixels, factor=width))
        for width in WIDTHS
    ]
    readings = network.read_twice(crops, float(np.arcsin(-crop_camera.rotation[2, 2])), scale)
    predictions, errors = combine_readings(readings)
    return Observation(pose, predictions, errors)


def estimate(camera: Camera, observation: Observation, hand: Hand) -> Estimate | None:
    """Estimate directions and places on the court from an observation.

    Parameters
    ----------
    camera
        in the frame of the half on which the player stands
    observation
        a network's close observation of the player
    hand
        "right" or "left", the racket hand

    Returns
    -------
    Estimate, or None where the feet are not seen on the floor (above the horizon)
    """
    crop_camera = rectified_camera(camera, observation.pose.pixels)
    racket, other = side_indices(hand, 0, 1)
    pixels = observation.predictions[FEET_PLACES].reshape(2, 2)[[racket, other]] * RECTIFIED_PIXELS
    middles = floor_point(crop_camera, pixels)[:, :2]
    shoes = feet_on_floor(camera, observation.pose.pixels, hand)
    if not (np.isfinite(middles).all() and np.isfinite(shoes).all()):
        return None
    # Heels and toes lie around the middles as the landmarks have them.
    feet = shoes - shoes.mean(axis=1, keepdims=True) + middles[:, None]
    away = crop_camera.rotation[2, :2] / np.linalg.norm(crop_camera.rotation[2, :2])
    axes = np.stack([crop_camera.rotation[0, :2], away])
    side = 1.0 if hand == "right" else -1.0
    # Predicted from left to right; a left-hander's racket side is the left one.
    hips, shoulders = (
        side * observation.predictions[0:2] @ axes,
        side * observation.predictions[2:4] @ axes,
    )
    base = middles.mean(axis=0)
    middle = base + observation.predictions[10:12] @ axes
    half = hips / np.linalg.norm(hips) * observation.predictions[12] / 2.0
    jacobian = floor_jacobian(crop_camera, pixels.mean(axis=0))
    knees = [racket, other]
    return Estimate(
        hip_yaw=_yaw(hips, hand),
        hip_yaw_se=float(observation.errors[0]),
        shoulder_yaw=_yaw(shoulders, hand),
        shoulder_yaw_se=float(observation.errors[1]),
        feet=feet,
        line_covariance=_spread(jacobian, observation.errors[2:4]),
        base_covariance=_spread(jacobian, observation.errors[4:6]),
        knee_flexion=np.degrees(observation.predictions[8:10])[knees],
        knee_flexion_se=observation.errors[6:8][knees],
        hips=np.stack([middle + half, middle - half]),
        hip_width=float(observation.predictions[12]),
        leg_length=float(observation.predictions[13]),
    )


def line_yaw(other: FloatArray, racket: FloatArray, hand: Hand) -> FloatArray:
    """Angle of the line other side -> racket side, seen from above, against the net line.

    Parameters
    ----------
    other, racket
        (..., 2 or 3) metres, court frame
    hand
        "right" or "left"

    Returns
    -------
    (...) degrees in (-180, 180]; 0 = square to the net, negative = racket side back
    """
    side = 1.0 if hand == "right" else -1.0
    step = racket - other
    return np.degrees(np.arctan2(step[..., 1], side * step[..., 0]))


def _yaw(line: FloatArray, hand: Hand) -> float:
    """Yaw of a line other -> racket side, degrees."""
    return float(line_yaw(np.zeros(2), line, hand))


def _spread(jacobian: FloatArray, errors: FloatArray) -> FloatArray:
    """(2, 2) covariance on the floor from standard errors (2,) in the picture."""
    spread: npt.NDArray[Any] = jacobian @ np.diag(errors**2) @ jacobian.T
    return spread
