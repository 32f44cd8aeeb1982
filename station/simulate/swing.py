"""One swing: from where the leg is to exactly where it must land, in joint angles.

Angles: thigh to the vertical, knee flexion, ankle (foot against shank, toes up positive), bend of
the toe part. Each is a smooth spline through the way points of a runner's swing; the way points'
shape was set by comparing with a real runner's curves (see the tests).
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass

from station.simulate.curve import Curve, spline
from station.simulate.foot import TOE_SPRING_RAD
from station.simulate.parameters import Body

RUN_SWING_S = 0.42
"""A swing this long or longer has its full shape; shorter ones (hops) a smaller one."""


@dataclass(frozen=True, slots=True)
class Joints:
    """Joint angles of one leg, rad, and their rates, rad/s."""

    thigh: float
    flexion: float
    ankle: float
    bend: float
    thigh_rate: float = 0.0
    flexion_rate: float = 0.0
    ankle_rate: float = 0.0
    bend_rate: float = 0.0

    @property
    def shank(self) -> float:
        """Shank angle to the vertical."""
        return self.thigh - self.flexion


@dataclass(frozen=True, slots=True)
class Swing:
    """Joint curves of one swing."""

    start_s: float
    end_s: float
    thigh: Curve
    flexion: Curve
    ankle: Curve
    bend: Curve

    def at(self, t_s: float) -> Joints:
        """Return the joints at `t_s`; held after the end (a leg carried by a hopper)."""
        (a, da), (b, db) = self.thigh.at(t_s), self.flexion.at(t_s)
        (c, dc), (d, dd) = self.ankle.at(t_s), self.bend.at(t_s)
        return Joints(a, b, c, d, da, db, dc, dd)


def landing_rates(
    body: Body,
    thigh: float,
    shank: float,
    rise_rad: float,
    hip_sink_mps: float,
    ankle_from_pivot_m: float,
    speed_mps: float,
) -> tuple[float, float, float]:
    """Return the rates of thigh, shank and foot pitch (rad/s) as the foot comes down.

    The shank swings back at a runner's rate (about 200 deg/s at 2.5 m/s, from the real trial); the
    thigh's rate follows from how fast the touching point must come down.

    Args:
        body: Segment lengths.
        thigh: At contact, to gravity, rad.
        shank: At contact, to gravity, rad.
        rise_rad: The belt's slope.
        hip_sink_mps: The hip's speed downward at contact.
        ankle_from_pivot_m: How far ahead of the touching point the ankle is (negative: behind).
        speed_mps: Belt speed.
    """
    shank_rate = -math.radians(110.0 + 32.0 * speed_mps)
    pitch_rate = -1.2
    down = -(0.55 + 0.07 * speed_mps)
    relative = down + pitch_rate * ankle_from_pivot_m + hip_sink_mps
    thigh_rate = (relative - body.shank_m * math.sin(shank - rise_rad) * shank_rate) / (
        body.thigh_m * max(math.sin(thigh - rise_rad), 0.12)
    )
    return min(max(thigh_rate, -5.0), 2.5), shank_rate, pitch_rate


@dataclass(frozen=True, slots=True)
class Clearing:
    """How much the swing's usual shape is bent to clear the belt; all 0 and more, rad."""

    early: float = 0.0
    """More knee bend soon after toe-off."""
    late: float = 0.0
    """More knee bend and toes higher as the leg reaches out."""
    last: float = 0.0
    """Less straightening just before contact."""


def plan_swing(
    start: Joints, start_s: float, end: Joints, end_s: float, speed_mps: float, clear: Clearing
) -> Swing:
    """Lead the leg from `start` to `end`.

    Args:
        start: Where the leg is, with rates.
        start_s: Now.
        end: Where it must be, with rates.
        end_s: The instant of contact.
        speed_mps: Belt speed: a faster runner lifts knee and heel higher.
        clear: Raised by the caller until the shoe clears the belt.
    """
    span = end_s - start_s
    full = min(max((span - 0.10) / (RUN_SWING_S - 0.10), 0.0), 1.0)
    faster = speed_mps - 2.5
    deg = math.radians(1.0)

    def when(*shares: float) -> list[float]:
        return [start_s, *(start_s + share * span for share in shares), end_s]

    knee_up = max((28.5 + 6.0 * faster) * deg * full, end.thigh + 6.0 * deg * full)
    knee_up += 0.4 * clear.late
    turn = start.thigh + 0.5 * start.thigh_rate * 0.09 * span
    thigh = spline(
        when(0.09, 0.40, 0.66),
        [start.thigh, turn, turn + 0.58 * (knee_up - turn), knee_up, end.thigh],
        start.thigh_rate,
        end.thigh_rate,
    )
    peak = (87.0 + 14.0 * faster) * deg * full + (1.0 - full) * 0.9 + 0.5 * clear.early
    peak = max(peak, end.flexion + 0.15)
    early = start.flexion + 0.4 * start.flexion_rate * 0.09 * span + 3.0 * deg * full
    late = max(end.flexion - 2.0 * deg, 8.0 * deg) + 0.3 * clear.late + clear.last
    flexion = spline(
        when(0.09, 0.24, 0.47, 0.76, 0.925),
        [
            start.flexion,
            early + 0.3 * clear.early,
            early + 0.50 * (peak - early) + 0.8 * clear.early,
            peak,
            end.flexion + 0.42 * (peak - end.flexion) + 0.8 * clear.late,
            late,
            end.flexion,
        ],
        start.flexion_rate,
        end.flexion_rate,
    )
    ankle = spline(
        when(0.12, 0.42, 0.68, 0.90),
        [
            start.ankle,
            start.ankle - 8.0 * deg * full,
            -6.0 * deg,
            0.7 * end.ankle + 4.0 * deg + 0.5 * clear.late,
            end.ankle + 2.0 * deg + 0.4 * clear.late,
            end.ankle,
        ],
        start.ankle_rate,
        end.ankle_rate,
    )
    bend = Curve(
        (start_s, start_s + min(0.12, 0.5 * span), end_s),
        (start.bend, TOE_SPRING_RAD, TOE_SPRING_RAD),
        (start.bend_rate, 0.0, 0.0),
    )
    return Swing(start_s, end_s, thigh, flexion, ankle, bend)


def carry(start: Joints, start_s: float) -> Swing:
    """Lift the leg that a hopper does not use and hold it bent."""
    held = Joints(math.radians(8.0), math.radians(80.0), math.radians(-12.0), TOE_SPRING_RAD)
    times = (start_s, start_s + 0.40)
    pairs = (
        (start.thigh, held.thigh, start.thigh_rate),
        (start.flexion, held.flexion, start.flexion_rate),
        (start.ankle, held.ankle, start.ankle_rate),
        (start.bend, held.bend, start.bend_rate),
    )
    curves = [Curve(times, (a, b), (rate, 0.0)) for a, b, rate in pairs]
    return Swing(start_s, times[1], *curves)


def ankle_at(body: Body, hip: complex, joints: Joints, rise_rad: float) -> complex:
    """Return the ankle in the belt's frame."""
    leg = -1j * (
        body.thigh_m * cmath.exp(1j * joints.thigh) + body.shank_m * cmath.exp(1j * joints.shank)
    )
    return hip + leg * cmath.exp(-1j * rise_rad)
