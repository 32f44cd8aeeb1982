"""Trunk, head and arms above the legs, in the frame of gravity (complex: ahead + i up)."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass

from station.simulate.parameters import Body
from station.values import Side, other


@dataclass(frozen=True, slots=True)
class ArmSwing:
    """One way of carrying the arms. Radians; ahead and bending are positive."""

    upper: float = -0.35
    """Mean angle of the upper arm to hanging down."""
    swing: float = 0.75
    """What a whole swing moves the upper arm."""
    elbow: float = math.radians(88.0)
    """Mean bend of the elbow; 0: a straight arm."""
    pump: float = 0.45
    """What a whole swing bends the elbow more."""


USUAL = ArmSwing()
"""As the gait carries them."""


@dataclass(frozen=True, slots=True)
class UpperBody:
    """Points of one instant."""

    shoulder: complex
    head: complex
    nose: complex
    elbows: dict[Side, complex]
    wrists: dict[Side, complex]


def upper_body(
    body: Body, hip: complex, lean_rad: float, thighs_rad: dict[Side, float]
) -> UpperBody:
    """Place the upper body; each arm swings with the opposite leg's thigh.

    Args:
        body: Segment lengths.
        hip: The hip's place, metres.
        lean_rad: The trunk's lean ahead.
        thighs_rad: Both thighs' angles to the vertical.
    """
    up = 1j * cmath.exp(-1j * lean_rad)
    shoulder = hip + body.trunk_m * up
    head = shoulder + 0.125 * body.height_m * 1j * cmath.exp(-1j * 0.5 * lean_rad)
    head += 0.012 * body.height_m
    nose = head + complex(0.060, -0.008) * body.height_m
    elbows: dict[Side, complex] = {}
    wrists: dict[Side, complex] = {}
    for side in ("left", "right"):
        swing = 0.9 * math.tanh(1.3 * (thighs_rad[other(side)] - 0.1))
        upper = USUAL.upper + USUAL.swing * swing
        fore = upper + USUAL.elbow + USUAL.pump * swing
        elbows[side] = shoulder - 1j * body.upper_arm_m * cmath.exp(1j * upper)
        wrists[side] = elbows[side] - 1j * body.forearm_m * cmath.exp(1j * fore)
    return UpperBody(shoulder, head, nose, elbows, wrists)
