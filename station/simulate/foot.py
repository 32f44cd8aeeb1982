"""The foot in its shoe, and the leg, as linked points in complex numbers (ahead + i up).

A point turned by an angle is a product with exp(i angle). The rear of the shoe (heel to ball) is
stiff; the toe part hinges at the ball and is bent up a little (toe spring) when nothing presses.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass

import numpy as np

from station.simulate.figure import Leg
from station.simulate.parameters import Body
from station.values import Floats

TOE_SPRING_RAD = math.radians(14.0)


@dataclass(frozen=True, slots=True)
class Shoe:
    """Shape of the shoe in its own frame, metres, from the ball; sole flat along the real axis."""

    heel: complex
    """Rear end of the sole's ground line."""
    ankle: complex
    heel_mark: complex
    """Back of the shoe where the pose model sees the heel."""
    tip: complex
    """Front end of the sole; turns with the toe part."""
    toe_mark: complex
    """The pose model's `foot_index`; turns with the toe part."""

    @classmethod
    def of(cls, body: Body) -> Shoe:
        """Build the shoe for a body (foot length 0.152 of the height, from memory of Winter)."""
        h = body.height_m
        return cls(
            heel=complex(-0.104 * h, 0.0),
            ankle=complex(-0.070 * h, 0.050 * h),
            heel_mark=complex(-0.112 * h, 0.017 * h),
            tip=complex(0.036 * h, 0.0),
            toe_mark=complex(0.040 * h, 0.006 * h),
        )


@dataclass(frozen=True, slots=True)
class FootPoints:
    """One foot's points."""

    ankle: complex
    heel_mark: complex
    toe_mark: complex
    heel: complex
    ball: complex
    tip: complex

    def given(self, offset: complex) -> FootPoints:
        """Return the foot with ankle and marks moved against the sole (see `give`)."""
        return FootPoints(
            self.ankle + offset,
            self.heel_mark + offset,
            self.toe_mark + offset,
            self.heel,
            self.ball,
            self.tip,
        )

    def turned(self, turn: complex) -> FootPoints:
        """Return the foot turned about the frame's origin, by a factor of length 1."""
        return FootPoints(
            self.ankle * turn,
            self.heel_mark * turn,
            self.toe_mark * turn,
            self.heel * turn,
            self.ball * turn,
            self.tip * turn,
        )

    def lowest(self) -> float:
        """Return the height of the sole's lowest point (its corners bound it)."""
        return min(self.heel.imag, self.ball.imag, self.tip.imag)


def point_of(z: complex) -> Floats:
    """Return (2,) metres along and up."""
    return np.array([z.real, z.imag])


def leg_of(hip: complex, knee: complex, foot: FootPoints, on_belt: bool) -> Leg:
    """Return a figure's leg.

    Args:
        hip: Bay frame, metres, ahead + i up, as are the following.
        knee: The knee.
        foot: The foot.
        on_belt: Whether the shoe touches the belt.
    """
    return Leg(
        point_of(hip),
        point_of(knee),
        point_of(foot.ankle),
        point_of(foot.heel_mark),
        point_of(foot.toe_mark),
        point_of(foot.heel),
        point_of(foot.ball),
        point_of(foot.tip),
        on_belt,
    )


def leg_to(body: Body, hip: complex, foot: FootPoints, on_belt: bool) -> tuple[Leg, float]:
    """Return a figure's leg from a hip to a foot's ankle, and its thigh's angle, rad.

    Args:
        body: Its thigh and shank.
        hip: Bay frame, metres, ahead + i up.
        foot: Within the leg's reach.
        on_belt: Whether the shoe touches the belt.
    """
    thigh, _ = leg_angles(body, foot.ankle - hip)
    knee = hip - 1j * body.thigh_m * cmath.exp(1j * thigh)
    return leg_of(hip, knee, foot, on_belt), thigh


def foot_points(shoe: Shoe, ball: complex, pitch_rad: float, toe_rad: float) -> FootPoints:
    """Place the shoe by its ball, the rear turned by `pitch_rad`, the toe part by `toe_rad`."""
    rear, toe = cmath.exp(1j * pitch_rad), cmath.exp(1j * toe_rad)
    return FootPoints(
        ball + shoe.ankle * rear,
        ball + shoe.heel_mark * rear,
        ball + shoe.toe_mark * toe,
        ball + shoe.heel * rear,
        ball,
        ball + shoe.tip * toe,
    )


def leg_vector(body: Body, thigh_rad: float, shank_rad: float) -> complex:
    """Return hip to ankle in the frame of gravity; angles to the vertical, positive ahead."""
    return -1j * (
        body.thigh_m * cmath.exp(1j * thigh_rad) + body.shank_m * cmath.exp(1j * shank_rad)
    )


def leg_angles(body: Body, hip_to_ankle: complex) -> tuple[float, float]:
    """Solve a two-link leg whose knee points ahead.

    Args:
        body: The segment lengths.
        hip_to_ankle: In the frame of gravity, metres; at most as long as the straight leg.

    Returns:
        Thigh and shank angle to the vertical, rad, positive ahead.

    Raises:
        ValueError: The ankle is out of the leg's reach.
    """
    reach = abs(hip_to_ankle)
    a, b = body.thigh_m, body.shank_m
    cosine = (a * a + reach * reach - b * b) / (2.0 * a * reach)
    if cosine > 1.0:
        raise ValueError(f"the ankle is {reach:.3f} m from the hip, beyond the leg's {a + b:.3f} m")
    thigh = cmath.phase(1j * hip_to_ankle) + math.acos(cosine)
    shank = cmath.phase(1j * (hip_to_ankle + 1j * a * cmath.exp(1j * thigh)))
    return thigh, shank
