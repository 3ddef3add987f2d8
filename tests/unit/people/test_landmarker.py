"""The pose models on the sample clip, whose joints are known."""

import json
import subprocess
import sys

import cv2
import numpy as np
import pytest

from stance.court.camera import project
from stance.people.landmarker import CROP_PIXELS, Landmarker, crop
from stance.people.landmarks import (
    LEFT_ANKLE,
    LEFT_HIP,
    LEFT_KNEE,
    LEFT_SHOULDER,
    RIGHT_ANKLE,
    RIGHT_HIP,
    RIGHT_KNEE,
    RIGHT_SHOULDER,
    Box,
)
from stance.runtime.model_files import Model
from stance.video.reader import read_frames_at
from tests.evaluation.accuracy import true_camera
from tests.paths import DATA

NAMED = {
    "shoulder": (LEFT_SHOULDER, RIGHT_SHOULDER),
    "hip": (LEFT_HIP, RIGHT_HIP),
    "knee": (LEFT_KNEE, RIGHT_KNEE),
    "ankle": (LEFT_ANKLE, RIGHT_ANKLE),
}


@pytest.fixture(scope="module")
def scene() -> tuple[np.ndarray, np.ndarray, Box]:
    """A frame of the sample clip, its true joints (8, 2) in pixels, and a box around them."""
    truth = json.loads((DATA / "rear_corner_drill.truth.json").read_text())
    camera = true_camera(truth)
    frame = next(iter(read_frames_at(DATA / "rear_corner_drill.mp4", [105])))
    joints = project(camera, np.array(truth["joints"][105]))
    names = [f"{side}_{part}" for part in NAMED for side in ("left", "right")]
    points = joints[[truth["joint_names"].index(name) for name in names]]
    low, high = joints.min(axis=0), joints.max(axis=0)
    side = 1.5 * float((high - low).max())
    return frame.image, points, Box(*((low + high) / 2 - side / 2), side)


@pytest.mark.parametrize("model", ["lite", "full", "heavy"])
@pytest.mark.parametrize("mirror", [False, True])
def test_landmarks_fall_on_the_joints_left_on_left(
    scene: tuple[np.ndarray, np.ndarray, Box], model: Model, mirror: bool
) -> None:
    image, points, box = scene
    with Landmarker(model) as landmarker:
        pose = landmarker.detect(image, box, mirror)
    assert pose is not None
    found = pose.pixels[[landmark for pair in NAMED.values() for landmark in pair]]
    height = box.side / 1.5
    assert np.linalg.norm(found - points, axis=-1).max() < 0.12 * height
    assert np.median(np.linalg.norm(found - points, axis=-1)) < 0.05 * height


def test_a_picture_of_nobody_holds_no_pose() -> None:
    with Landmarker("lite") as landmarker:
        assert landmarker.detect(np.full((300, 300, 3), 80, np.uint8), Box(0, 0, 300)) is None


@pytest.mark.parametrize("side", [100.0, 300.0, 512.0, 900.0, 2300.0])
def test_a_crop_shows_a_point_where_the_box_says(side: float) -> None:
    image = np.zeros((1200, 1600, 3), np.uint8)
    radius = max(3, round(side / 40))
    cv2.circle(image, (700, 500), radius, (255, 255, 255), -1)
    # The circle's middle pixel has its centre half a pixel further in our coordinates.
    box = Box(700.5 - 0.3 * side, 500.5 - 0.6 * side, side)
    picture = crop(image, box)[..., 0].astype(float)
    y, x = np.mgrid[:CROP_PIXELS, :CROP_PIXELS] + 0.5
    found = np.array([(picture * x).sum(), (picture * y).sum()]) / picture.sum()
    np.testing.assert_allclose(found / CROP_PIXELS, (0.3, 0.6), atol=0.002)


def test_outside_the_picture_is_black() -> None:
    picture = crop(np.full((100, 100, 3), 200, np.uint8), Box(50, 50, 100))
    assert picture[:250, :250].min() == 200
    assert picture[262:, 262:].max() == 0


def test_nothing_native_reaches_the_terminal(
    scene: tuple[np.ndarray, np.ndarray, Box], capfd: pytest.CaptureFixture[str]
) -> None:
    image, _, box = scene
    with Landmarker("lite") as landmarker:
        landmarker.detect(image, box)
    assert capfd.readouterr().err == ""


def test_libraries_for_drawings_are_not_loaded_with_the_model_and_can_be_later() -> None:
    program = (
        "import sys\n"
        "from stance.people.landmarker import Landmarker\n"
        "Landmarker('lite')\n"
        "print([name for name in ('matplotlib', 'sounddevice') if name in sys.modules])\n"
        "from matplotlib.figure import Figure\n"
        "print(Figure().add_subplot().name)\n"
    )
    printed = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    ).stdout
    assert printed.split("\n")[:2] == ["[]", "rectilinear"]
