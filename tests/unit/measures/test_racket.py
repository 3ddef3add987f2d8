"""The racket in a hand, as the rendered sample clip shows it."""

import json

import numpy as np
import pytest

from stance.errors import StanceError
from stance.measures.racket import (
    CHECKSUM_FILE,
    NETWORK_FILE,
    PATCH_PIXELS,
    RacketNetwork,
    hand_patches,
)
from stance.people.landmarker import Landmarker
from stance.people.landmarks import Pose, box_around
from stance.runtime import model_files
from stance.video.reader import read_frames_at
from tests.evaluation.pair_accuracy import true_pixels
from tests.paths import DATA

CLIP = DATA / "rear_corner_drill.mp4"


@pytest.fixture(scope="module")
def looks() -> list[tuple[np.ndarray, Pose]]:
    """Pictures of the sample clip's right-hander, and the poses in them."""
    found = []
    truth = json.loads(CLIP.with_suffix(".truth.json").read_text())
    joints = true_pixels(truth)[0][0]
    with Landmarker("full") as landmarker:
        for frame in read_frames_at(CLIP, range(0, len(joints), 30)):
            square = box_around(joints[frame.index]).widened(1.2)
            found += [(frame.image, pose) for pose in landmarker.detect_all(frame.image, square)]
    assert len(found) >= 8
    return found


def test_the_right_handers_racket_is_seen_in_the_right_hand(looks) -> None:
    reader = RacketNetwork()
    assert np.mean([reader.predict(hand_patches(image, pose)) for image, pose in looks]) > 0.5


def test_a_mirrored_player_holds_the_racket_in_the_other_hand(looks) -> None:
    reader = RacketNetwork()
    for image, pose in looks[:4]:
        mirrored = np.ascontiguousarray(image[:, ::-1])
        other = reader.predict(hand_patches(mirrored, pose.mirrored(image.shape[1])))
        assert other == pytest.approx(-reader.predict(hand_patches(image, pose)), abs=0.15)


def test_a_picture_twice_as_large_shows_the_same_squares(looks) -> None:
    image, pose = looks[0]
    twice = np.repeat(np.repeat(image, 2, axis=0), 2, axis=1)
    larger = Pose(2.0 * pose.pixels, pose.visibility, pose.world)
    one, other = (hand_patches(i, p).astype(float) for i, p in ((image, pose), (twice, larger)))
    assert one.shape == (2, PATCH_PIXELS, PATCH_PIXELS, 3)
    assert np.abs(one - other).mean() < 3.0


def test_a_damaged_network_is_refused_with_a_sentence(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(model_files, "models_folder", lambda: tmp_path)
    with pytest.raises(StanceError, match="install the tool anew"):
        RacketNetwork()
    (tmp_path / NETWORK_FILE).write_bytes(b"damaged")
    (tmp_path / CHECKSUM_FILE).write_text('{"network_sha256": "0"}')
    with pytest.raises(StanceError, match="install the tool anew"):
        RacketNetwork()
