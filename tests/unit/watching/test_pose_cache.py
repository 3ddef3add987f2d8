"""Poses kept beside a result come back as they were, and only to the run they belong to."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stance.camera_motion.motion import CameraMotion, Part
from stance.court.calibration import CalibratedCourt
from stance.court.court_file import MarkedCourt
from stance.measures.orientation import Observation
from stance.people.landmarks import Pose
from stance.watching import pose_cache
from stance.watching.options import THOROUGH, WatchOptions
from stance.watching.pose_cache import poses_key, read_poses, write_poses
from stance.watching.watched_clip import (
    CompressedCrop,
    ObservedSpell,
    Opponent,
    RacketHand,
    WatchedClip,
    WatchedPlayer,
)
from tests.unit.figures import behind_camera, figure, track_of


def seen_in_a_clip(looks: int, seed: int = 0) -> WatchedClip:
    """What was seen of one player, with so many close looks."""
    rng = np.random.default_rng(seed)
    track = track_of(behind_camera(), np.stack([figure((0.0, -4.0))] * 12), 30.0)
    part = Part(0, 11, 0.0, 0.37)
    motion = CameraMotion(
        (1280, 720), (part,), (part,), 0, np.arange(12), np.stack([np.eye(3)] * 12), 0.0, True
    )
    player = WatchedPlayer(
        "near",
        track,
        {"right": (ObservedSpell(0, 11, 0.0, 0.37, (1, 5), 5),), "left": ()},
        {
            3 * k: Observation(
                Pose(*(rng.normal(size=shape) for shape in ((33, 2), (33,), (33, 3)))),
                rng.normal(size=14),
                rng.normal(size=8),
            )
            for k in range(looks)
        },
        {2 * k: float(rng.normal()) for k in range(looks)},
        {7 * k: CompressedCrop(rng.bytes(20 + k), k, -k) for k in range(looks)},
        tuple(ObservedSpell(k, k + 3, 0.1 * k, 0.1 * k + 0.1, (k,), k) for k in range(looks)),
    )
    return WatchedClip(
        motion,
        track.times,
        (player,),
        (RacketHand("left", float(rng.uniform(0.5, 1.0))),),
        CalibratedCourt(behind_camera(), 1.5, "marked"),
        None,
        (Opponent("far", track),) * (looks % 3),
        rng.uniform(0.0, 0.4, looks),
        "unseen",
    )


def same(one: object, two: object) -> bool:
    """Whether two values are the same, arrays and dataclasses of arrays included."""
    if isinstance(one, np.ndarray):
        return isinstance(two, np.ndarray) and np.array_equal(one, two)
    if isinstance(one, dict):
        return (
            isinstance(two, dict)
            and list(one) == list(two)
            and all(same(one[key], two[key]) for key in one)
        )
    if isinstance(one, tuple):
        return isinstance(two, tuple) and len(one) == len(two) and all(map(same, one, two))
    if hasattr(one, "__dataclass_fields__"):
        return type(one) is type(two) and same(vars(one), vars(two))
    return one == two


@given(looks=st.integers(0, 5), seed=st.integers(0, 1000))
def test_what_was_seen_comes_back_as_it_was(
    tmp_path_factory: pytest.TempPathFactory, looks: int, seed: int
) -> None:
    path = tmp_path_factory.mktemp("kept") / "poses.npz"
    seen = seen_in_a_clip(looks, seed)
    write_poses(path, "key", seen)
    assert same(read_poses(path, "key"), seen)


def test_poses_of_another_clip_and_damaged_files_count_as_none(tmp_path: Path) -> None:
    write_poses(tmp_path / "poses.npz", "key", seen_in_a_clip(2))
    assert read_poses(tmp_path / "poses.npz", "another") is None
    assert read_poses(tmp_path / "none.npz", "key") is None
    (tmp_path / "poses.npz").write_bytes(b"PK damaged")
    assert read_poses(tmp_path / "poses.npz", "key") is None


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_flipped_bits_and_cuts_give_what_was_seen_or_none(tmp_path_factory, data) -> None:
    file, seen = tmp_path_factory.mktemp("flipped") / "poses.npz", seen_in_a_clip(2)
    write_poses(file, "key", seen)
    content = bytearray(file.read_bytes())
    for place in data.draw(st.lists(st.integers(0, len(content) - 1), min_size=1, max_size=5)):
        content[place] ^= 1 << data.draw(st.integers(0, 7))
    file.write_bytes(content[: data.draw(st.just(len(content)) | st.integers(0, len(content)))])
    read = read_poses(file, "key")
    assert read is None or same(read, seen)


def test_poses_depend_on_the_clip_the_marks_what_is_watched_and_the_version_but_not_on_workers(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    right = WatchOptions(hand="right")
    key = poses_key("clip", None, right)
    assert key == poses_key("clip", None, WatchOptions(hand="right", workers=3))
    corners = np.array([(0.0, -6.7), (6.1, -6.7), (0.0, 0.0), (6.1, 0.0)])
    others = {
        poses_key("another", None, right),
        poses_key("clip", None, WatchOptions()),
        poses_key("clip", None, WatchOptions(hand="right", half="far")),
        poses_key("clip", None, WatchOptions(hand="right", effort=THOROUGH)),
        *(
            poses_key("clip", MarkedCourt((1280, 720), corners, corners + moved), right)
            for moved in (0.0, 1.0)
        ),
    }
    monkeypatch.setattr(pose_cache, "results_version", lambda: "later")
    others.add(poses_key("clip", None, right))
    assert len(others | {key}) == 8


def test_poses_of_another_key_take_the_place_of_what_was_there(tmp_path: Path) -> None:
    path = tmp_path / "poses.npz"
    write_poses(path, "key", seen_in_a_clip(2))
    write_poses(path, "another", seen_in_a_clip(3))
    assert read_poses(path, "key") is None
    assert read_poses(path, "another") is not None
