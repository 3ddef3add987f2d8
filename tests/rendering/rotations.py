"""Small rotation helpers; matrices turn column vectors, angles in radians."""

import numpy as np

from tests.rendering.arrays import FloatArray


def turn_x(angle: float) -> FloatArray:
    """Rotation (3, 3) about x."""
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]])


def turn_y(angle: float) -> FloatArray:
    """Rotation (3, 3) about y."""
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]])


def turn_z(angle: float) -> FloatArray:
    """Rotation (3, 3) about z."""
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def turn_about(axis: FloatArray, angle: float) -> FloatArray:
    """Rotation (3, 3) by `angle` about the unit vector `axis` (Rodrigues)."""
    x, y, z = axis
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    return np.eye(3) + np.sin(angle) * cross + (1.0 - np.cos(angle)) * (cross @ cross)


def rotation_vector(rotation: FloatArray) -> FloatArray:
    """Rotation vector (3,) of a rotation by less than 180 degrees."""
    angle = np.arccos(np.clip((np.trace(rotation) - 1.0) / 2.0, -1.0, 1.0))
    skew = np.array(
        [
            rotation[2, 1] - rotation[1, 2],
            rotation[0, 2] - rotation[2, 0],
            rotation[1, 0] - rotation[0, 1],
        ]
    )
    if angle < 1e-8:
        return skew / 2.0
    return skew * (angle / (2.0 * np.sin(angle)))


def part_of_turn(rotation: FloatArray, fraction: float) -> FloatArray:
    """The given fraction of a rotation, about the same axis."""
    vector = rotation_vector(rotation)
    angle = float(np.linalg.norm(vector))
    if angle < 1e-8:
        return np.eye(3)
    return turn_about(vector / angle, angle * fraction)


def between(first: FloatArray, second: FloatArray, fraction: float) -> FloatArray:
    """The orientation `fraction` of the way from `first` to `second`."""
    return part_of_turn(second @ first.T, fraction) @ first


def unit(vector: FloatArray) -> FloatArray:
    """`vector` (3,) scaled to length 1."""
    return vector / np.sqrt(vector @ vector)


def frame(direction: FloatArray, axis: FloatArray) -> FloatArray:
    """Right-handed frame (3, 3): first column `direction`, second as near `axis` as can be."""
    first = unit(direction)
    second = unit(axis - (axis @ first) * first)
    third = np.array(
        [
            first[1] * second[2] - first[2] * second[1],
            first[2] * second[0] - first[0] * second[2],
            first[0] * second[1] - first[1] * second[0],
        ]
    )
    return np.stack([first, second, third], axis=1)
