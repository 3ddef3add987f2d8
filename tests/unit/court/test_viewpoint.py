"""Where the phone stood, from the camera of a result."""

import math
from dataclasses import replace

import numpy as np
import pytest

from stance.court.viewpoint import filming_of
from stance.results.model import CourtCamera, CourtSummary
from tests.rendering.cameras import Lens, aim_camera
from tests.unit.results.invented import invented_player, invented_result


def filmed_from(position, half="near"):
    """A result of a player around (0.9, -4.3) of the near half, filmed from a place."""
    camera = aim_camera(
        np.array(position, float), np.array([0.9, -4.3, 0.8]), (640, 360), Lens((1280, 720), 26.0)
    )
    player = replace(invented_player(), half=half)
    court = CourtSummary(
        "marked",
        1.0,
        CourtCamera(
            *(tuple(map(tuple, m)) for m in (camera.matrix, camera.rotation)),
            tuple(camera.translation),
        ),
    )
    return replace(invented_result(player), court=court)


@pytest.mark.parametrize(
    ("position", "view"),
    [
        ((0.9, -11.0, 2.0), "behind"),
        ((5.0, -9.0, 1.5), "corner"),
        ((-4.0, -9.0, 1.5), "corner"),
        ((8.0, -4.5, 1.2), "side"),
        ((0.5, 6.0, 3.0), "front"),
    ],
)
def test_view_height_and_distance_are_those_of_the_phone(position, view):
    filming = filming_of(filmed_from(position))
    bases = np.array([p.base_m for p in invented_player().ready_positions])
    assert filming.view == view
    assert filming.height_m == pytest.approx(position[2])
    assert filming.distance_m == pytest.approx(
        np.hypot(*(np.array(position[:2]) - bases.mean(axis=0)))
    )


def test_the_far_half_is_seen_from_its_own_side():
    result = filmed_from((0.9, -11.0, 2.0), half="far")
    # The same camera, the court turned: what is behind the near half is in front of the far one.
    assert filming_of(result).view == "front"


@pytest.mark.parametrize(
    ("said", "view"),
    [
        ("behind", "behind"),
        ("rear-left", "corner"),
        ("right", "side"),
        ("front-left", "front"),
        ("front", "front"),
    ],
)
def test_of_an_assumed_camera_only_what_somebody_said_is_known(said, view):
    court = replace(invented_result().court, source="assumed", filmed_from=said)
    filming = filming_of(replace(invented_result(), court=court))
    assert filming.view == view and math.isnan(filming.height_m) and math.isnan(filming.distance_m)


def test_without_a_camera_nothing_is_known():
    result = replace(invented_result(), court=CourtSummary("assumed", None, None))
    filming = filming_of(result)
    assert filming.view == "unknown" and math.isnan(filming.height_m)
