"""The physical limits against a simulation of landmarks with one pixel of noise."""

import numpy as np
import pytest
from scipy.optimize import least_squares

from stance.court.camera import Camera, floor_point
from stance.statistics.shares import wilson_interval
from tests.evaluation.accuracy import chance_interval, limit_distance
from tests.evaluation.limits import (
    HIP_WIDTH_M,
    MEAN_OF_NORMAL,
    NOISE_PX,
    PHONE_FOCAL_PX,
    STANCE_WIDTH_M,
    seen_limit,
)
from tests.rendering.cameras import Lens, ViewCamera, aim_camera

DRAWS = 400
# The formula is of first order in the noise, so the simulation takes a part of it.
SMALL = 0.2


@pytest.mark.parametrize(
    ("bearing", "height", "distance"),
    [(0.0, 2.5, 6.0), (45.0, 1.5, 7.0), (-90.0, 2.0, 5.0), (180.0, 3.0, 9.0)],
)
def test_limits_are_what_noise_leaves(bearing: float, height: float, distance: float) -> None:
    rng = np.random.default_rng(2)
    hips, feet = 25.0, -20.0
    angle = np.radians(bearing)
    place = np.array([distance * np.sin(angle), -distance * np.cos(angle), height])
    lens = Lens((1920, 1080), PHONE_FOCAL_PX / 1920 * 36)
    camera = aim_camera(place, np.zeros(3), (960, 540), lens)
    elevation = np.arctan2(height, distance)
    scale = PHONE_FOCAL_PX / np.hypot(height, distance)
    limits = np.array(seen_limit(elevation, scale, bearing, hips, feet)) / MEAN_OF_NORMAL

    def ends(degrees: float, length: float, up: float) -> np.ndarray:
        half = length / 2 * np.array([np.cos(np.radians(degrees)), np.sin(np.radians(degrees))])
        return np.array([[*half, up], [*-half, up]])

    def pixels(points: np.ndarray) -> np.ndarray:
        return camera.project(points)[:, :2]

    leads, staggers, turns = [], [], []
    true = pixels(ends(hips, HIP_WIDTH_M, 0.0))
    for _ in range(DRAWS):
        # Heel and toe of each foot are half a shoe away from its middle, so their mean counts.
        noise = rng.normal(0, SMALL * NOISE_PX, (2, 2, 2)).mean(axis=1)
        right, left = floor_point(_pinhole(camera), pixels(ends(feet, STANCE_WIDTH_M, 0.0)) + noise)
        line = (right - left)[:2]
        leads.append(np.degrees(np.arctan2(line[1], line[0])))
        staggers.append(line[1])
        seen = true + rng.normal(0, SMALL * NOISE_PX, (2, 2))

        def missed(x: np.ndarray, seen: np.ndarray = seen) -> np.ndarray:
            shown = pixels(ends(x[0], HIP_WIDTH_M, 0.0) + np.array([x[1], x[2], 0.0]))
            return (shown - seen).ravel()

        turns.append(least_squares(missed, (hips, 0.0, 0.0)).x[0])
    # Perspective over the hips' width is not in the formula.
    found = np.array([np.std(turns), np.std(leads), np.std(staggers)]) / SMALL
    np.testing.assert_allclose(found, limits, rtol=0.17)


def _pinhole(camera: ViewCamera) -> Camera:
    """The tool's camera for a renderer's without distortion."""
    return Camera(camera.matrix, camera.rotation, camera.translation, camera.size)


@pytest.mark.parametrize(
    ("lead", "hips", "distance"),
    [
        (0.0, 0.0, 10.0),  # Square: a racket foot ten degrees back is the next class.
        (-25.0, 0.0, 12.0),  # Slightly back, far from all others.
        (-25.0, 39.0, 1.0),  # Hips by the limit of 40 degrees.
        (8.0, 20.0, 5.0),  # Over nearly square feet hips turned by 25 are as near to side-on.
        (24.0, 0.0, 1.0),  # So is a racket foot that leads.
        (0.0, 178.0, 12.0),  # The turned back is side-on all round.
    ],
)
def test_distance_to_another_class_is_where_the_class_changes(lead, hips, distance):
    true = {"lead_angle_deg": lead, "hip_yaw_deg": hips}
    assert limit_distance(true) == pytest.approx(distance, abs=0.8)


def test_chance_moves_a_rate_less_where_positions_do_not_hang_together():
    # 57 of 60 held.
    held = np.arange(60) % 20 != 0
    apart = chance_interval([f"clip {n}" for n in range(60)], held)
    assert apart == pytest.approx(wilson_interval(57, 60), abs=0.035)
    # The three misses in one clip of five say less about other clips than in three of them.
    together = chance_interval([f"clip {n // 12}" for n in range(60)], np.arange(60) >= 3)
    spread = chance_interval([f"clip {n // 12}" for n in range(60)], held)
    assert np.diff(together) > np.diff(spread)
    assert chance_interval(["one", "one"], np.array([True, False])) == (0.5, 0.5)
