"""The second way's scenes: their truth is what is drawn. No rays are traced here."""

import json
from pathlib import Path

import numpy as np
import pytest

from tests.rendering.cameras import VIEWS
from tests.rendering.measures import measure
from tests.rendering.path_traced.footwear import draw_footwear, shod, shoe_pieces
from tests.rendering.path_traced.models import box
from tests.rendering.path_traced.people import draw_person, person_joints, person_models
from tests.rendering.path_traced.response import developed
from tests.rendering.path_traced.scenes import (
    SIZES_PX,
    WINDOW_FACTOR,
    draw_scene,
    window_camera,
    write_scene,
)
from tests.rendering.rotations import turn_z
from tests.rendering.skeleton import JOINT_NAMES
from tests.rendering.stances import draw_stance


@pytest.fixture(scope="module")
def scenes() -> list:
    return [draw_scene(seed, "tune", stances=2) for seed in range(len(VIEWS))]


def joint(joints: np.ndarray, name: str) -> np.ndarray:
    return joints[..., JOINT_NAMES.index(name), :]


def test_a_scene_is_that_of_its_seed_and_part() -> None:
    one, again, other = (draw_scene(9, part, stances=1) for part in ("tune", "tune", "test"))
    np.testing.assert_array_equal(one.joints, again.joints)
    np.testing.assert_array_equal(one.models[0].vertices, again.models[0].vertices)
    assert not np.allclose(one.joints, other.joints)


def test_views_follow_in_turn(scenes: list) -> None:
    assert [scene.view for scene in scenes] == list(VIEWS)


def test_a_window_shows_its_player_as_large_as_asked_for(scenes: list) -> None:
    for scene in scenes:
        for joints, window in zip(scene.joints, scene.windows, strict=True):
            camera = window_camera(scene.camera, window)
            shown = camera.project(joints)[:, :2]
            size = np.ptp(shown, axis=0).max()
            assert SIZES_PX[0] <= size <= SIZES_PX[1]
            assert camera.size[0] == pytest.approx(WINDOW_FACTOR * size, abs=1.0)
            assert (shown > 0).all() and (shown < camera.size[0]).all()


def test_a_foot_ends_where_its_shoe_ends() -> None:
    rng = np.random.default_rng(4)
    for _ in range(4):
        person = draw_person(rng, "right")
        posture = draw_stance(rng, person.skeleton, (0.3, -4.0))
        joints = person_joints(person, [posture])[0]
        models = person_models(person, [posture])
        shoes = {"left": models[-9:-6], "right": models[-6:-3]}
        for side, parts in shoes.items():
            heel, toe = joint(joints, f"{side}_heel"), joint(joints, f"{side}_toe")
            along = (toe - heel)[:2] / np.linalg.norm((toe - heel)[:2])
            points = np.concatenate([part.vertices[0] for part in parts])
            reach = (points[:, :2] - heel[:2]) @ along
            length = float((toe - heel)[:2] @ along)
            # A lifted heel bends the shoe, and its collar leans.
            assert reach.min() == pytest.approx(0.0, abs=0.04)
            assert reach.max() == pytest.approx(length, abs=0.012)
            assert points[:, 2].min() == pytest.approx(0.0, abs=0.012)


def test_shoes_raise_the_body_by_their_heels() -> None:
    rng = np.random.default_rng(5)
    person = draw_person(rng, "right")
    plain = person.skeleton
    for _ in range(5):
        kind = draw_footwear(rng)
        raised = shod(plain, kind)
        low = raised.head("root")[2] - raised.body.head_of("root")[2]
        other = plain.head("root")[2] - plain.body.head_of("root")[2]
        # `shod` starts from a skeleton in the first renderer's shoes.
        assert low - other == pytest.approx(kind.heel - 0.022)
        longer = raised.shoes[0].length - plain.shoes[0].length
        assert longer == pytest.approx(kind.overhang + kind.longer)


def test_a_sole_is_as_thick_as_its_kind_says() -> None:
    rng = np.random.default_rng(6)
    person = draw_person(rng, "right")
    kind = draw_footwear(rng)
    skeleton = shod(person.skeleton, kind)
    outsole, side, upper = shoe_pieces(skeleton, "R", kind)
    shoe = skeleton.shoes[1]
    local = (upper.vertices - shoe.heel) @ turn_z(shoe.yaw)
    middle = local[np.abs(local[:, 1] / shoe.length - 0.2) < 0.05]
    assert middle[:, 2].min() == pytest.approx(kind.heel, abs=0.006)
    assert outsole.vertices[:, 2].min() == pytest.approx(0.0, abs=1e-9)
    assert len(side.triangles) > 0


def test_a_left_hander_is_the_mirror_image() -> None:
    right, left = (draw_person(np.random.default_rng(7), hand) for hand in ("right", "left"))
    posture = draw_stance(np.random.default_rng(8), right.skeleton, (0.4, -3.0))
    one, other = (person_joints(person, [posture])[0] for person in (right, left))
    assert measure(one, "right").lead_angle_deg == pytest.approx(
        measure(other, "left").lead_angle_deg
    )
    mirrored = person_models(left, [posture])[0].vertices * (-1, 1, 1)
    np.testing.assert_allclose(mirrored, person_models(right, [posture])[0].vertices)


def test_a_boxs_sides_face_outwards(scenes: list) -> None:
    model = box((0.0, 0.0, 0.0), (1.0, 2.0, 3.0), scenes[0].models[0].surface)
    a, b, c = (model.vertices[0][model.triangles[:, k]] for k in range(3))
    outward = (a + b + c) / 3 - (0.5, 1.0, 1.5)
    assert (np.einsum("ti,ti->t", np.cross(b - a, c - a), outward) > 0).all()


def test_what_the_tracer_reads_is_all_there(scenes: list, tmp_path: Path) -> None:
    write_scene(scenes[0], tmp_path / "0000.npz")
    with np.load(tmp_path / "0000.npz") as data:
        header = json.loads(str(data["header"]))
        for number, surface in enumerate(header["models"]):
            vertices, triangles = data[f"vertices{number}"], data[f"triangles{number}"]
            assert len(vertices) in (1, len(header["cameras"]))
            assert triangles.max() < vertices.shape[1]
            assert np.isfinite(vertices).all()
            assert 0.0 <= surface["roughness"] <= 1.0
    assert list(tmp_path.iterdir()) == [tmp_path / "0000.npz"]


def test_the_camera_leaves_things_where_they_are() -> None:
    picture = np.zeros((64, 64, 3), np.uint8)
    picture[30:34, 20:24] = 255
    for seed in range(12):
        grey = developed(np.random.default_rng(seed), picture).mean(axis=2)
        bright = np.clip(grey - np.median(grey) - 30.0, 0, None)
        rows, columns = np.mgrid[0:64, 0:64]
        assert (bright * rows).sum() / bright.sum() == pytest.approx(31.5, abs=0.4)
        assert (bright * columns).sum() / bright.sum() == pytest.approx(21.5, abs=0.4)
