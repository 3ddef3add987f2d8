"""The numbers that describe a posture.

A posture is written for a right-hander; a left-hander is the same posture mirrored in x, body and
all. Court frame, metres, radians; angles about z count from +y (towards the net), positive
anticlockwise seen from above, which for a right-hander is racket side leading.
"""

from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True)
class Foot:
    """Where one foot stands: middle of heel and toe on the floor, direction, heel lift, height.

    `x`, `y` and `height` in metres; `yaw` of the toes; `lift` is the angle by which the heel is
    up, the ball of the foot staying down.
    """

    x: float
    y: float
    yaw: float
    lift: float = 0.0
    height: float = 0.0


@dataclass(frozen=True)
class Arm:
    """Where one hand is: in the frame of the chest, as multiples of the arm's length.

    `across` is positive away from the body's middle, `forward` to the front, `up` upwards, all
    from the shoulder; `swivel` turns the elbow outwards.
    """

    across: float
    forward: float
    up: float
    swivel: float


@dataclass(frozen=True)
class Posture:
    """All numbers of a right-hander's posture (see the module's docstring for axes and signs).

    `hip_height` is the height of the hip joints' middle above the floor, metres. `pitch` is
    positive leaning forward, `roll` positive towards the racket side. `racket_yaw` and
    `racket_pitch` give the direction of the racket's shaft against the chest.
    """

    racket_foot: Foot
    other_foot: Foot
    hip_x: float
    hip_y: float
    hip_height: float
    hip_yaw: float
    hip_pitch: float
    hip_roll: float
    chest_yaw: float
    chest_pitch: float
    chest_roll: float
    head_yaw: float
    head_pitch: float
    racket_arm: Arm
    other_arm: Arm
    racket_yaw: float
    racket_pitch: float
    grip: float = 1.0


class Moving(Protocol):
    """Somebody's motion: a posture for every time from 0 to `duration_s`."""

    @property
    def duration_s(self) -> float:
        """How long it lasts, seconds."""

    def posture(self, time_s: float) -> Posture:
        """The posture at a time."""
