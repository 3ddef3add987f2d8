"""Points of a moved picture are found in the reference picture."""

import cv2
import numpy as np
import pytest

from stance.camera_motion.motion import homography_to_reference
from stance.camera_motion.registration import apply_homography
from stance.camera_motion.segments import estimate_camera_motions
from stance.camera_motion.stabilising import warp_to_reference
from tests.unit.camera_motion.halls import hall, moved, write


@pytest.mark.parametrize(
    ("dx", "dy", "turn_deg", "scale"),
    [
        (9.0, 0.0, 0.0, 1.0),
        (0.0, -6.5, 0.0, 1.0),
        (3.0, 2.0, 1.5, 1.0),
        (0.0, 0.0, 0.0, 1.02),
        (-8.0, 5.0, -1.0, 0.985),
    ],
)
def test_a_known_motion_of_the_picture_is_the_answer(tmp_path, dx, dy, turn_deg, scale):
    image = hall()
    shown, change = moved(image, dx, dy, turn_deg, scale)
    clip, size = write(tmp_path / "clip.mp4", [image] * 30 + [shown] * 15)
    motion = estimate_camera_motions(clip, size)[0]
    assert not motion.stands and motion.reference_frame < 30
    # OpenCV's change counts from the middle of the first pixel, ours from its corner.
    pixels = np.array([[60.0, 50.0], [320.0, 180.0], [600.0, 330.0]])
    seen = cv2.transform(pixels[None] - 0.5, change[:2])[0] + 0.5
    found = apply_homography(homography_to_reference(motion, 40), seen)
    np.testing.assert_allclose(found, pixels, atol=0.3)
    stabilised = warp_to_reference(shown, 40, motion)[60:-60, 60:-60]
    assert np.abs(stabilised.astype(int) - image[60:-60, 60:-60]).mean() < 5
