"""A simulated walker: feet that roll over the belt, one always down.

For pictures and tests of what the station does with somebody who walks; its steps are no truth to
measure against. Shares and angles are this project's own choices.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass, field

from station.simulate.figure import Arm, Figure, Leg
from station.simulate.foot import FootPoints, Shoe, foot_points, leg_to, point_of
from station.simulate.parameters import Body
from station.simulate.upper import upper_body
from station.values import Heard, Side, TrueStep

_SIDES: tuple[Side, Side] = ("left", "right")
_DOWN_RAD, _LIFT_RAD = math.radians(14.0), math.radians(-58.0)
_FALLS, _RISES = 0.14, 0.55
"""Shares of the contact at which the forefoot is down, and the heel begins to rise."""
_BOUNCE_M = 0.024
_HIP_SHARE = 0.935
"""Mean height of the hips over the ankles, of the straight leg's length."""


@dataclass
class Walker:
    """Walks at one speed; stands behind the same seam as a running runner."""

    speed_mps: float = 1.3
    rate_spm: float = 114.0
    duty: float = 0.62
    """Contact time over stride time; over half: both feet are down in between."""
    body: Body = field(default_factory=Body)

    def figure_at(self, t_s: float) -> Figure:
        """Return the body at `t_s`, bay frame, the hips over the middle of the belt."""
        shoe, body = Shoe.of(self.body), self.body
        step_s = 60.0 / self.rate_spm
        middle_s = (2.0 * self.duty - 1.0) * step_s  # a foot stands alone half a step later
        turn = 2.0 * math.pi * (t_s - middle_s - 0.5 * (1.0 - middle_s / step_s) * step_s) / step_s
        straight_m = body.thigh_m + body.shank_m
        hip = complex(0.0, _HIP_SHARE * straight_m + shoe.ankle.imag + _BOUNCE_M * math.cos(turn))
        legs: dict[Side, Leg] = {}
        thighs: dict[Side, float] = {}
        for number, side in enumerate(_SIDES):
            foot, on_belt = self._foot(shoe, t_s + number * step_s, step_s)
            reach = foot.ankle - hip
            if abs(reach) > 0.999 * straight_m:  # the hips give way, not the leg
                foot = foot.given(reach * (0.999 * straight_m / abs(reach) - 1.0))
            legs[side], thighs[side] = leg_to(body, hip, foot, on_belt=on_belt)
        upper = upper_body(body, hip, math.radians(2.0), thighs)
        arms: dict[Side, Arm] = {}
        for side in _SIDES:  # hanging, swinging with the other leg
            swing = 0.5 * thighs["right" if side == "left" else "left"]
            elbow = upper.shoulder - 1j * body.upper_arm_m * cmath.exp(1j * (swing - 0.1))
            wrist = elbow - 1j * body.forearm_m * cmath.exp(1j * (swing + 0.25))
            arms[side] = Arm(point_of(upper.shoulder), point_of(elbow), point_of(wrist))
        return Figure(
            t_s, legs, arms, point_of(upper.head), point_of(upper.nose), body.height_m,
            self.speed_mps * t_s,
        )  # fmt: skip

    def hear(self, event: Heard) -> None:
        """Take no notice of beats and cues."""

    def set_belt(self, speed_mps: float) -> None:
        """Walk on at the same speed."""

    def truth(self) -> tuple[TrueStep, ...]:
        """Return none."""
        return ()

    def _foot(self, shoe: Shoe, since_s: float, step_s: float) -> tuple[FootPoints, bool]:
        stride_s, v = 2.0 * step_s, self.speed_mps
        contact_s = stride_s * self.duty
        tau_s = since_s % stride_s
        ahead_m = 0.5 * v * contact_s + 0.06
        length_m = -shoe.heel.real
        if tau_s < contact_s:
            pitch = _DOWN_RAD * max(0.0, 1.0 - tau_s / (_FALLS * contact_s))
            pitch += _LIFT_RAD * max(0.0, (tau_s / contact_s - _RISES) / (1.0 - _RISES)) ** 2
            ball = complex(ahead_m - v * tau_s, length_m * max(math.sin(pitch), 0.0))
            return foot_points(shoe, ball, pitch, max(pitch, 0.0)), True
        swing_s = stride_s - contact_s
        s = (tau_s - contact_s) / swing_s
        smooth = s * s * (3.0 - 2.0 * s)
        back_m = ahead_m - v * contact_s
        x = back_m + (ahead_m - back_m + v * swing_s) * smooth - v * swing_s * s
        high = length_m * math.sin(_DOWN_RAD) * smooth + 0.05 * math.sin(math.pi * s) ** 2
        pitch = _LIFT_RAD + (_DOWN_RAD - _LIFT_RAD) * smooth
        return foot_points(shoe, complex(x, high), pitch, pitch * smooth), False
