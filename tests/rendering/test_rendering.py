"""The renderer's truth: measures by hand, seeds, feet on the floor, splits, projection."""

import json
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stance.court.dimensions import COURT_LENGTH, COURT_WIDTH
from tests.paths import DATA, SAMPLE_CLIPS
from tests.rendering import (
    cameras,
    hall,
    hall_picture,
    measures,
    players,
    raster,
    rays,
    sample,
    scene,
    shading,
    splits,
    stances,
    stills,
    wide_lenses,
)
from tests.rendering.body import Phenotype, make_body
from tests.rendering.drill import draw_drill
from tests.rendering.garments import dress
from tests.rendering.kinematics import solve
from tests.rendering.people import draw_outfit
from tests.rendering.play.truth import play_truth
from tests.rendering.skeleton import JOINT_NAMES, leg_lengths, make_skeleton, mirror_joints
from tests.rendering.truth import TRUTH_SCHEMA

SAMPLE, DRILL = SAMPLE_CLIPS / sample.NAME, DATA / "rear_corner_drill"


def joint(joints, name):
    return joints[..., JOINT_NAMES.index(name), :]


@pytest.fixture(scope="module")
def skeleton():
    child = Phenotype(0.8, 0.4, 0.5, 0.4, 0.5, 0.5, 0.5, (1.0, 1.0, 1.0), 1.52)
    return make_skeleton(make_body(child))


@pytest.fixture(scope="module")
def right_hander(skeleton):
    figure = dress(skeleton, draw_outfit(np.random.default_rng(3), 1.0))
    return players.Player(figure, "right", np.full((3, 3), 0.5), 1.0)


@pytest.fixture
def corner_camera():
    return cameras.aim_camera(
        position=np.array([3.0, -9.0, 2.2]),
        point=np.array([0.0, -4.0, 0.8]),
        pixel=(700.0, 380.0),
        lens=cameras.Lens((1280, 720), 28.0, distortion=-0.03, middle=(643.0, 357.0)),
        roll=np.radians(2.0),
    )


def right_hander_by_hand():
    """Joints of a right-hander with the right foot and hip back, every number chosen by hand."""
    joints = np.zeros((len(JOINT_NAMES), 3))
    places = {
        "left_heel": (-0.3, -4.1, 0),
        "left_toe": (-0.3, -3.9, 0),
        "right_heel": (0.2, -4.6, 0),
        "right_toe": (0.4, -4.4, 0),
        "left_hip": (-0.1, -4.2, 0.9),
        "right_hip": (0.1, -4.2 - 0.2 * np.tan(np.radians(20)), 0.9),
        "left_shoulder": (-0.2, -4.0, 1.3),
        "right_shoulder": (0.2, -4.0, 1.3),
        "left_knee": (-0.1, -3.8, 0.9),
        "left_ankle": (-0.1, -3.8, 0.5),
        "right_knee": (0.1, -4.0, 0.5),
        "right_ankle": (0.1, -4.0, 0.1),
    }
    for name, place in places.items():
        joints[JOINT_NAMES.index(name)] = place
    return joints


def test_measures_equal_those_computed_by_hand():
    found = measures.measure(right_hander_by_hand(), "right")
    assert found.hip_yaw_deg == pytest.approx(-20.0)
    assert found.shoulder_yaw_deg == pytest.approx(0.0)
    assert found.lead_angle_deg == pytest.approx(np.degrees(np.arctan2(-0.5, 0.6)))
    assert found.foot_stagger_m == pytest.approx(-0.5)
    assert found.stance_width_m == pytest.approx(np.hypot(0.5, 0.6))
    assert found.knee_flexion_deg[1] == pytest.approx(90.0)
    assert found.base_m == pytest.approx((0.0, -4.25))


@given(st.integers(0, 2**31))
def test_a_left_handers_measures_are_those_of_the_mirror_image(seed):
    joints = np.random.default_rng(seed).normal(size=(len(JOINT_NAMES), 3))
    right = measures.measure(joints, "right")
    left = measures.measure(mirror_joints(joints), "left")
    assert left.hip_yaw_deg == pytest.approx(right.hip_yaw_deg)
    assert left.lead_angle_deg == pytest.approx(right.lead_angle_deg)
    assert left.foot_stagger_m == pytest.approx(right.foot_stagger_m)
    assert left.knee_flexion_deg == pytest.approx(right.knee_flexion_deg)
    assert left.base_m == pytest.approx((-right.base_m[0], right.base_m[1]))


@pytest.mark.parametrize(
    ("lead", "hip", "expected"),
    [
        (0, 0, "square"),
        (-9, 9, "square"),
        (-11, 0, "slightly_racket_leg_back"),
        (-39, 38, "slightly_racket_leg_back"),
        (-41, 0, "over_side_on"),
        (0, -41, "over_side_on"),
        (45, 45, "over_side_on"),
        (13, 2, "square"),
        (36, 2, "over_side_on"),
        (-8, 25, "slightly_racket_leg_back"),
    ],
)
def test_classes_follow_the_default_limits_and_the_nearest_class(lead, hip, expected):
    assert measures.stance_class(lead, hip) == expected


@pytest.mark.parametrize("seed", range(12))
def test_a_drawn_stance_has_the_angles_asked_for_and_stands_on_the_floor(skeleton, seed):
    rng = np.random.default_rng(seed)
    lead, hip = stances.draw_angles(rng)
    posture = stances.draw_stance(rng, skeleton, (0.7, -4.0), (lead, hip))
    joints = solve(skeleton, posture).joints
    found = measures.measure(joints, "right")
    assert found.lead_angle_deg == pytest.approx(lead, abs=1e-6)
    assert found.hip_yaw_deg == pytest.approx(hip, abs=1e-6)
    assert found.base_m == pytest.approx((0.7, -4.0), abs=1e-9)
    assert joint(joints, "left_toe")[2] == pytest.approx(0.0, abs=1e-9)
    assert joint(joints, "right_toe")[2] == pytest.approx(0.0, abs=1e-9)
    assert 0.0 <= joint(joints, "left_heel")[2] + 1e-9 < 0.15


@pytest.mark.parametrize("seed", range(6))
def test_legs_keep_their_lengths_in_every_posture(skeleton, seed):
    posture = stances.draw_stance(np.random.default_rng(seed), skeleton, (0.0, -4.0))
    joints = solve(skeleton, posture).joints
    for row, side in zip(leg_lengths(skeleton), ("left", "right"), strict=True):
        hip, knee, ankle = (joint(joints, f"{side}_{n}") for n in ("hip", "knee", "ankle"))
        assert np.linalg.norm(knee - hip) == pytest.approx(row[0], abs=1e-9)
        assert np.linalg.norm(ankle - knee) == pytest.approx(row[1], abs=1e-9)


def test_no_vertex_of_a_figure_is_below_the_floor(right_hander):
    posture = stances.draw_stance(np.random.default_rng(5), right_hander.skeleton, (0.0, -4.0))
    posed = players.pose_player(right_hander, posture)
    assert posed.mesh.vertices[:, 2].min() > -0.01


def test_a_left_hander_is_the_mirror_image(right_hander):
    posture = stances.draw_stance(np.random.default_rng(6), right_hander.skeleton, (0.4, -4.0))
    right = players.pose_player(right_hander, posture)
    left = players.pose_player(replace(right_hander, hand="left"), posture)
    np.testing.assert_allclose(left.mesh.vertices[:, 0], -right.mesh.vertices[:, 0])
    np.testing.assert_allclose(
        joint(left.joints, "left_hip") * (-1, 1, 1), joint(right.joints, "right_hip")
    )


def test_projection_agrees_with_opencv(corner_camera):
    points = np.random.default_rng(0).uniform((-3, -6, 0), (3, 0, 2), (200, 3))
    rotation, _ = cv2.Rodrigues(corner_camera.rotation)
    expected, _ = cv2.projectPoints(
        points,
        rotation,
        corner_camera.translation,
        corner_camera.matrix,
        np.array([corner_camera.distortion, 0.0, 0.0, 0.0]),
    )
    found = corner_camera.project(points)[:, :2]
    np.testing.assert_allclose(found, expected[:, 0], atol=1e-6)


def test_a_wide_lens_projects_as_opencv_says(corner_camera):
    wide = replace(corner_camera, wide=wide_lenses.bent_by(-0.25, 0.07))
    points = np.random.default_rng(0).uniform((-3, -6, 0), (3, 0, 2), (200, 3))
    rotation, _ = cv2.Rodrigues(wide.rotation)
    terms = np.array([-0.25, 0.07, 0.0, 0.0])
    expected, _ = cv2.projectPoints(points, rotation, wide.translation, wide.matrix, terms)
    np.testing.assert_allclose(wide.project(points)[:, :2], expected[:, 0], atol=1e-3)


@pytest.mark.parametrize("lens", wide_lenses.WIDE_LENSES)
def test_viewing_rays_undo_the_projection_of_wide_lenses(corner_camera, lens):
    wide = replace(corner_camera, wide=wide_lenses.WIDE_LENSES[lens])
    through = rays.pixel_rays(wide, raster.Window(20, 400, 60, 40))
    shown = wide.project(wide.centre + 5.0 * through)
    np.testing.assert_allclose(shown[0, :, 0], np.arange(20, 80) + 0.5, atol=1e-3)
    np.testing.assert_allclose(shown[:, 0, 1], np.arange(400, 440) + 0.5, atol=1e-3)


def test_a_lens_that_would_show_rays_twice_is_refused():
    with pytest.raises(ValueError, match="twice"):
        wide_lenses.bent_by(-0.35, 0.0)


def test_a_camera_shows_its_target_where_it_should(corner_camera):
    ideal = replace(corner_camera, distortion=0.0)
    shown = ideal.project(np.array([0.0, -4.0, 0.8]))
    np.testing.assert_allclose(shown[:2], (700.0, 380.0), atol=1e-9)
    np.testing.assert_allclose(ideal.rotation @ ideal.rotation.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(ideal.rotation) == pytest.approx(1.0)


def test_viewing_rays_undo_the_projection(corner_camera):
    window = raster.Window(500, 250, 300, 200)
    through = rays.pixel_rays(corner_camera, window)
    shown = corner_camera.project(corner_camera.centre + 5.0 * through)
    np.testing.assert_allclose(
        shown[..., 0], np.arange(500, 800)[None] + np.full((200, 1), 0.5), atol=1e-3
    )
    np.testing.assert_allclose(
        shown[..., 1], np.arange(250, 450)[:, None] + np.full(300, 0.5), atol=1e-3
    )


def test_the_figure_is_drawn_where_its_joints_project(right_hander, corner_camera):
    posture = stances.draw_stance(np.random.default_rng(8), right_hander.skeleton, (0.0, -4.0))
    posed = players.pose_player(right_hander, posture)
    lighting = shading.Lighting(np.ones(3), np.array([[0.0, 0.0, 1.0]]), np.ones((1, 3)))
    layer = raster.draw(posed.mesh, corner_camera, raster.Window(0, 0, 1280, 720), lighting)
    names = ("left_hip", "right_hip", "left_knee", "right_knee", "left_shoulder", "left_elbow")
    for name in names:
        column, row = corner_camera.project(joint(posed.joints, name))[:2].astype(int)
        assert layer.cover[row, column] > 0.5, name


def test_a_figure_behind_the_camera_takes_no_part_of_the_picture(right_hander, corner_camera):
    posture = stances.draw_stance(np.random.default_rng(8), right_hander.skeleton, (3.0, -30.0))
    posed = players.pose_player(right_hander, posture)
    window = scene.figure_window(corner_camera, raster.Window(0, 0, 1280, 720), [posed])
    assert window.width * window.height <= 1


def test_the_court_is_painted_where_the_laws_put_it(corner_camera):
    drawn = hall.draw_hall(np.random.default_rng(1), "train", corner_camera.centre)
    drawn = replace(drawn, boxes=np.empty((0, 9)))
    through = rays.pixel_rays(corner_camera, raster.Window(0, 0, 1280, 720))
    image, place = hall_picture.render_hall(drawn, corner_camera, through)
    corner = np.array([-COURT_WIDTH / 2, -COURT_LENGTH / 2 + 3.0, 0.0])
    column, row = corner_camera.project(corner)[:2].astype(int)
    np.testing.assert_allclose(place[row, column], corner[:2], atol=0.02)
    on_line = corner_camera.project(corner + (0.02, 0.0, 0.0))[:2].astype(int)
    beside = corner_camera.project(corner + (0.2, 0.0, 0.0))[:2].astype(int)
    line_colour = drawn.colours[2]
    far_off = np.abs(image[beside[1], beside[0]] - line_colour).sum()
    assert np.abs(image[on_line[1], on_line[0]] - line_colour).sum() < 0.6 * far_off


def test_the_same_seed_gives_the_same_still_and_another_split_another():
    first, again = (stills.render_still(7, "train") for _ in range(2))
    other = stills.render_still(7, "test")
    np.testing.assert_array_equal(first.image, again.image)
    np.testing.assert_array_equal(first.joints, again.joints)
    assert first.measures == again.measures
    assert not np.array_equal(first.joints, other.joints)


def test_a_still_shows_the_whole_player():
    still = stills.render_still(2, "tune")
    shown = still.camera.project(still.joints)[:, :2] - np.array(still.offset)
    assert (shown > 0).all()
    assert (shown < still.image.shape[1::-1]).all()


def test_splits_share_no_band_and_no_colour_scheme():
    drawn = {}
    for split in splits.SPLITS:
        rng = np.random.default_rng(0)
        drawn[split] = {
            *(int(splits.comb(rng, split) * splits.COMB_TEETH) for _ in range(400)),
            *(splits.choose(rng, split, [f"s{k}" for k in range(15)]) for _ in range(200)),
        }
    for split, other in (("train", "tune"), ("train", "test"), ("tune", "test")):
        assert not drawn[split] & drawn[other]
    assert len(set.union(*drawn.values())) == splits.COMB_TEETH + 15


def test_feet_stay_where_they_are_in_every_true_ready_position(skeleton):
    rng = np.random.default_rng(11)
    angles = [(0.0, 0.0), (-30.0, 10.0), (-60.0, -50.0), (20.0, -15.0)]
    drill = draw_drill(rng, skeleton, (0.0, -4.0), angles)
    assert len(drill.spells) == len(angles)
    feet = [k for k, name in enumerate(JOINT_NAMES) if name.endswith(("heel", "toe"))]
    for spell, (lead, _) in zip(drill.spells, angles, strict=True):
        times = np.linspace(spell.start_s, spell.end_s - 1e-6, 9)
        joints = np.array([solve(skeleton, drill.posture(t)).joints for t in times])
        assert np.ptp(joints[:, feet], axis=0).max() < 1e-9
        assert measures.measure(joints[4], "right").lead_angle_deg == pytest.approx(lead, abs=1e-6)
    for before, after in zip(drill.spells[:-1], drill.spells[1:], strict=True):
        middle = 0.5 * (before.end_s + after.start_s)
        posed = [solve(skeleton, drill.posture(t)).joints for t in (before.start_s, middle)]
        assert np.abs(posed[0] - posed[1])[feet].max() > 0.01


def read_truth(name):
    return json.loads(Path(f"{name}.truth.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", [SAMPLE, DRILL])
def test_a_kept_clip_comes_with_truth_for_every_frame(name):
    truth = read_truth(name)
    video = cv2.VideoCapture(f"{name}.mp4")
    assert truth["schema"] == TRUTH_SCHEMA
    assert len(truth["joints"]) == video.get(cv2.CAP_PROP_FRAME_COUNT) > 0
    assert np.shape(truth["joints"])[1:] == (len(truth["joint_names"]), 3)
    positions = truth["ready_positions"]
    assert {p["class"] for p in positions} == {
        "square",
        "slightly_racket_leg_back",
        "over_side_on",
    }
    assert all(p["end_frame"] < len(truth["joints"]) for p in positions)
    assert Path(f"{name}.mp4").stat().st_size < 1_000_000


def test_in_the_sample_clip_a_serve_and_strokes_met_set_and_on_the_move_are_faced():
    truth = read_truth(SAMPLE)
    faced = [stroke for stroke in truth["strokes"] if stroke["side"] == "faced"]
    own = [stroke for stroke in truth["strokes"] if stroke["side"] == "own"]
    assert [stroke["serve"] for stroke in faced] == [True, *[False] * 6]
    assert [stroke["set"] for stroke in faced] == [*[True] * 5, False, True]
    assert len(truth["ready_positions"]) == 6
    for stroke, answer in zip(faced, own, strict=True):
        assert stroke["time_s"] < answer["time_s"]


def test_the_sample_clip_is_the_one_that_the_command_draws():
    drawn, written = play_truth(sample.sample_play()), read_truth(SAMPLE)
    assert drawn["strokes"] == written["strokes"]
    assert drawn["ready_positions"] == written["ready_positions"]


@pytest.mark.parametrize("name", [SAMPLE, DRILL])
def test_a_kept_court_file_fits_the_true_camera(name):
    truth = read_truth(name)
    court = json.loads(Path(f"{name}.court.json").read_text(encoding="utf-8"))
    camera = cameras.ViewCamera(
        *(np.array(truth["camera"][name]) for name in ("K", "R", "t")), tuple(truth["image_size"])
    )
    points = np.array([[*point["court"], 0.0] for point in court["points"]])
    marked = np.array([point["pixel"] for point in court["points"]])
    error = np.linalg.norm(camera.project(points)[:, :2] - marked, axis=1)
    assert len(points) >= 8
    assert np.sqrt(np.mean(error**2)) < 1.5
