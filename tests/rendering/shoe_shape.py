"""Shoes around the bare feet of a body at rest."""

from dataclasses import dataclass

import numpy as np

from tests.rendering.arrays import FloatArray
from tests.rendering.body import Body
from tests.rendering.rotations import (
    turn_z,
)

BALL_FRACTION = 0.72  # of the shoe's length from the heel: where the shoe bends
SHOE_MARGIN_M = 0.008


@dataclass(frozen=True)
class ShoeShape:
    """One shoe at rest: `heel` (3,) on the floor, `yaw` of its axis, `length` and sizes, metres.

    `stations` (n,) along the axis as fractions of the length, with half widths left and right of
    the axis `right` and `left` (n,), and heights of the upper `top` (n,).
    """

    heel: FloatArray
    yaw: float
    length: float
    stations: FloatArray
    right: FloatArray
    left: FloatArray
    top: FloatArray

    @property
    def ball(self) -> FloatArray:
        """Point of the sole (3,) where the shoe bends."""
        return self.heel + BALL_FRACTION * self.length * turn_z(self.yaw)[:, 1]


def measure_shoe(body: Body, side: str) -> ShoeShape:
    """The shoe around the bare foot at rest: its axis, length, widths and heights."""
    model = body.model
    foot_bones = [model.bone(f"foot.{side}"), model.bone(f"toe3-1.{side}")]
    strongest = model.weight_bones[:, 0]
    points = body.vertices[np.isin(strongest, foot_bones)]
    ankle, toe = body.head_of(f"foot.{side}"), body.head_of(f"toe3-1.{side}")
    yaw = float(np.arctan2(-(toe - ankle)[0], (toe - ankle)[1]))
    local = (points - ankle) @ turn_z(yaw)
    local[:, 2] += ankle[2]
    low = local[local[:, 2] < 0.6 * ankle[2]]
    back, front = low[:, 1].min() - SHOE_MARGIN_M, low[:, 1].max() + 1.5 * SHOE_MARGIN_M
    length = float(front - back)
    middle = 0.5 * (low[:, 0].min() + low[:, 0].max())
    stations = np.array([0.0, 0.04, 0.12, 0.25, 0.4, 0.55, 0.65, 0.72, 0.8, 0.88, 0.95, 1.0])
    right, left, top = (np.empty(len(stations)) for _ in range(3))
    for index, station in enumerate(stations):
        place = back + np.clip(station, 0.08, 0.93) * length
        near = np.abs(local[:, 1] - place) < 0.06 * length
        side_points = near & (local[:, 2] < 0.5 * ankle[2])
        right[index] = local[side_points, 0].max() - middle + SHOE_MARGIN_M
        left[index] = middle - local[side_points, 0].min() + SHOE_MARGIN_M
        bare = min(local[near, 2].max(), ankle[2]) + SHOE_MARGIN_M
        collar = np.interp(station, (0.0, 0.12, 0.32, 0.5), (1.0, 1.2, 1.15, 0.0))
        top[index] = max(bare, collar * ankle[2])
    rounding = np.sqrt(np.clip(1.0 - np.clip((0.1 - stations) / 0.1, 0, 1) ** 2, 0.12, 1.0))
    rounding *= np.sqrt(np.clip(1.0 - np.clip((stations - 0.8) / 0.2, 0, 1) ** 2, 0.08, 1.0))
    heel = ankle + turn_z(yaw) @ np.array([middle, back, 0.0])
    heel[2] = 0.0
    return ShoeShape(heel, yaw, length, stations, right * rounding, left * rounding, top)
