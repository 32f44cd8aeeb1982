"""Other arms for a figure: how they swing, a hand held above the head, a hand at the brow.

They change the picture of a runner, never the truth of the steps. Angles and shares are this
project's own choices.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import replace

import numpy as np

from station.simulate.figure import Arm, Figure
from station.simulate.upper import USUAL, ArmSwing
from station.values import Floats, Side

ARM_SWINGS: dict[str, ArmSwing] = {
    "hip": ArmSwing(-0.20, 0.60, 0.90, 0.30),
    "usual": USUAL,
    "chest": ArmSwing(-0.30, 0.60, 1.95, 0.35),
    "high": ArmSwing(0.15, 0.45, 2.35, 0.20),
    "pumping": ArmSwing(-0.15, 1.10, 1.75, 0.60),
    "still": ArmSwing(-0.05, 0.15, 1.70, 0.05),
}
"""Hands at the hips; as the gait has them; before the chest; below the chin; a sprinter's; hardly
moved."""


def with_arm_swing(figure: Figure, swing: ArmSwing) -> Figure:
    """Return a running figure with its arms carried another way, in time with its own."""
    arms = {}
    for side, arm in figure.arms.items():
        down = complex(*(arm.elbow - arm.shoulder))
        share = (cmath.phase(1j * down) - USUAL.upper) / USUAL.swing
        upper = swing.upper + swing.swing * share
        fore = upper + swing.elbow + swing.pump * share
        elbow = arm.shoulder + _hanging(upper, abs(down))
        wrist = elbow + _hanging(fore, _length(arm.wrist - arm.elbow))
        arms[side] = Arm(arm.shoulder, elbow, wrist)
    return replace(figure, arms=arms)


STRETCHED = (np.array([0.35, 0.94]), np.array([0.02, 1.0]))
"""Ways of upper arm and forearm, ahead and up, of an arm stretched above the head."""
BENT = (np.array([0.75, 0.66]), np.array([-0.35, 0.94]))
"""The same with the elbow bent and the hand close above the head."""
AT_BROW = (np.array([0.96, 0.28]), np.array([-0.62, 0.78]))
"""The same with the hand at the brow, as to wipe it."""


def with_raised_hand(
    figure: Figure, side: Side, share: float, way: tuple[Floats, Floats] = STRETCHED
) -> Figure:
    """Return the figure with one hand on its way up.

    Args:
        figure: As it runs.
        side: Whose hand.
        share: 0 as it was, 1 all the way.
        way: Where it goes: `STRETCHED`, `BENT` or `AT_BROW`.
    """
    arm = figure.arms[side]
    up_elbow = way[0] * _length(arm.elbow - arm.shoulder)
    up_wrist = way[1] * _length(arm.wrist - arm.elbow)
    elbow = arm.shoulder + _turned(arm.elbow - arm.shoulder, up_elbow, share)
    wrist = elbow + _turned(arm.wrist - arm.elbow, up_wrist, share)
    return replace(figure, arms={**figure.arms, side: Arm(arm.shoulder, elbow, wrist)})


def _turned(start: Floats, end: Floats, share: float) -> Floats:
    """Turn a segment from one direction to another by a share of the angle, ahead and up."""
    a, b = complex(*start), complex(*end)
    turn = cmath.phase(b / a)
    if turn < 0.0:  # an arm goes up in front of the body
        turn += 2.0 * cmath.pi if turn < -2.6 else 0.0
    z = a * cmath.exp(1j * share * turn) * ((1 - share) + share * abs(b) / abs(a))
    return np.array([z.real, z.imag])


def _hanging(angle: float, length_m: float) -> Floats:
    return np.array([math.sin(angle), -math.cos(angle)]) * length_m


def _length(segment: Floats) -> float:
    return float(np.hypot(*segment))
