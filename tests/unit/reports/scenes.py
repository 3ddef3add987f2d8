"""Invented scenes: a player in a ready position, filmed by a phone in a corner of the hall."""

import math

import cv2
import numpy as np

from stance.court.camera import Camera, project
from stance.court.dimensions import court_lines


def corner_camera(size=(1280, 720), focal=1150.0) -> Camera:
    """A phone 3 m up behind the left rear corner that looks at the near half."""
    place, target = np.array([-4.2, -10.5, 3.0]), np.array([0.6, -4.0, 0.7])
    away = (target - place) / np.linalg.norm(target - place)
    right = np.cross(away, [0, 0, 1.0])
    right /= np.linalg.norm(right)
    rotation = np.array([right, np.cross(away, right), away])
    matrix = np.array([[focal, 0, size[0] / 2], [0, focal, size[1] / 2], [0, 0, 1.0]])
    return Camera(matrix, rotation, -rotation @ place, size)


def invented_landmarks(position, camera, hand="right"):
    """The 33 landmarks of a crouching figure that stands as the position says."""
    side = 1.0 if hand == "right" else -1.0
    base = np.array([*position.base_m, 0.0])

    def across(angle_deg, half):
        angle = math.radians(angle_deg)
        return half * np.array([side * math.cos(angle), math.sin(angle), 0.0])

    forward = np.array([0.0, 0.18, 0.0])
    joints = np.full((33, 3), np.nan)
    pairs = {}
    pairs[11] = (base + [0, 0.1, 1.22], across(position.shoulder_yaw_deg, 0.18))
    pairs[13] = (base + [0, 0.25, 1.0], across(position.shoulder_yaw_deg, 0.3))
    pairs[15] = (base + [0, 0.5, 1.05], across(position.shoulder_yaw_deg, 0.22))
    pairs[23] = (base + [0, -0.05, 0.8], across(position.hip_yaw_deg, 0.13))
    pairs[25] = (base + forward + [0, 0, 0.45], across(position.lead_angle_deg, 0.3))
    for number, (middle, half) in pairs.items():
        racket, other = (number + 1, number) if hand == "right" else (number, number + 1)
        joints[racket], joints[other] = middle + half, middle - half
    for index, foot in enumerate(position.feet):
        is_left = (index == 0) == (hand == "left")
        heel, toe = np.array([*foot.heel_m, 0.02]), np.array([*foot.toe_m, 0.02])
        joints[27 + (not is_left)] = heel + 0.2 * (toe - heel) + [0, 0, 0.09]
        joints[29 + (not is_left)], joints[31 + (not is_left)] = heel, toe
    joints[0] = base + [0, 0.22, 1.42]
    return project(camera, joints)


def invented_frame(camera, landmarks, size=(1280, 720)):
    """A hall with court lines and a plain figure, (height, width, 3) RGB."""
    width, height = size
    shade = np.linspace(70, 130, height)[:, None, None]
    image = np.repeat(shade * [0.75, 1.0, 0.85], width, axis=1).astype(np.uint8)
    for line in court_lines():
        corners = [(line.x[i], line.y[j], 0.0) for i, j in ((0, 0), (1, 0), (1, 1), (0, 1))]
        pixels = project(camera, corners)
        if np.isfinite(pixels).all():
            cv2.fillPoly(image, [pixels.round().astype(np.int32)], (235, 238, 235), cv2.LINE_AA)
    limbs = ((11, 12, 23), (12, 24, 23))
    dots = np.nan_to_num(landmarks).round().astype(np.int64)
    for a, b, c in limbs:
        cv2.fillPoly(image, [dots[[a, b, c]].astype(np.int32)], (40, 60, 120), cv2.LINE_AA)
    for start, end in (
        (11, 13),
        (13, 15),
        (12, 14),
        (14, 16),
        (23, 25),
        (25, 27),
        (24, 26),
        (26, 28),
        (27, 31),
        (28, 32),
    ):
        cv2.line(image, dots[start].tolist(), dots[end].tolist(), (205, 160, 130), 11, cv2.LINE_AA)
    cv2.circle(image, dots[0].tolist(), 13, (205, 160, 130), cv2.FILLED, cv2.LINE_AA)
    return image


def invented_scene(position, hand="right"):
    """Frame, landmarks and camera for a position."""
    camera = corner_camera()
    landmarks = invented_landmarks(position, camera, hand)
    return invented_frame(camera, landmarks), landmarks, camera
