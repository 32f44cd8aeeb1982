"""One swing: from where the leg is to exactly where it must land, in joint angles.

Angles: thigh to the vertical, knee flexion, ankle (foot against shank, toes up positive), bend of
the toe part. Each is a smooth spline through the way points of a runner's swing; the way points'
shape was set by comparing with a real runner's curves (see the tests).
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import maximum_filter1d, uniform_filter1d

from station.simulate.curve import Curve, spline
from station.simulate.foot import TOE_SPRING_RAD
from station.simulate.give import Give
from station.simulate.parameters import Body
from station.values import Floats

STRAIGHTEST_S = 0.012
"""The knee is straightest this long after toe-off, as on the real trial."""
LANDING = (0.76, 0.895)
"""From the first of these shares of the swing the leg is brought to its landing."""
LATE_TURN = 1.16
"""How far a joint has still to turn back at the second, against an evenly slowed one: 1 would be
the same deceleration of the joint all the way. So it is the foot that is slowed evenly: on the
real trial its sole is by 48 to 56 m/s^2 all through the last 60 ms, here by 52 to 58."""
RETRACTS_S = 0.06
"""A thigh that swings back at contact has come back by its speed times this, at least."""
HOP_SWING_S = 0.25
"""A swing shorter than this is a hop's."""
CARRY_S = 0.24
"""So soon a hopper has the free leg lifted out of the way."""
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
    give: Give | None = None
    """How the shoe takes its unloaded shape again; None: a carried leg, its shoe stays as it is."""
    lift: Curve | None = None
    """Raises the foot square to the belt where the curves alone would graze it, metres."""

    def give_at(self, t_s: float) -> complex:
        """Return the offset of ankle and shoe marks against the sole, metres."""
        if self.give is None:
            return 0j
        return self.give.returning(t_s - self.start_s, self.end_s - self.start_s)

    def at(self, t_s: float) -> Joints:
        """Return the joints at `t_s` before any lift; held after the end (a carried leg)."""
        (a, da), (b, db) = self.thigh.at(t_s), self.flexion.at(t_s)
        (c, dc), (d, dd) = self.ankle.at(t_s), self.bend.at(t_s)
        return Joints(a, b, c, d, da, db, dc, dd)


def with_rates(joints_at: Callable[[float], Joints], t_s: float) -> Joints:
    """Return the joints at `t_s` with their rates from just before it (second order)."""
    step = 1e-4
    rows = []
    for back in (0.0, step, 2.0 * step):
        j = joints_at(t_s - back)
        rows.append((j.thigh, j.flexion, j.ankle, j.bend))
    rates = [(3.0 * a - 4.0 * b + c) / (2.0 * step) for a, b, c in zip(*rows, strict=True)]
    return Joints(*rows[0], *rates)


def landing_rates(
    body: Body,
    thigh: float,
    shank: float,
    rise_rad: float,
    hip_mps: complex,
    ankle_mps: complex,
    pitch_rate: float,
) -> tuple[float, float, float]:
    """Return the rates of thigh, shank and foot pitch (rad/s) as the foot comes down.

    Thigh and shank turn so that the ankle has just the speed that it has right after the touch.

    Args:
        body: Segment lengths.
        thigh: At contact, to gravity, rad.
        shank: At contact, to gravity, rad.
        rise_rad: The belt's slope.
        hip_mps: The hip's velocity in the belt's frame (along + i square to it).
        ankle_mps: The ankle's, right after the touch.
        pitch_rate: The foot's, right after the touch, rad/s.
    """
    wanted = (ankle_mps - hip_mps) * cmath.exp(1j * rise_rad)
    along_thigh = body.thigh_m * cmath.exp(1j * thigh)
    along_shank = body.shank_m * cmath.exp(1j * shank)
    matrix = [[along_thigh.real, along_shank.real], [along_thigh.imag, along_shank.imag]]
    rates = np.linalg.solve(np.array(matrix), np.array([wanted.real, wanted.imag]))
    return float(rates[0]), float(rates[1]), pitch_rate


def plan_swing(
    start: Joints,
    start_s: float,
    end: Joints,
    end_s: float,
    speed_mps: float,
    bent: float,
    give: Give,
) -> Swing:
    """Lead the leg from `start` to `end`.

    Args:
        start: Where the leg is, with rates.
        start_s: Now.
        end: Where it must be, with rates.
        end_s: The instant of contact.
        speed_mps: Belt speed: a faster runner lifts knee and heel higher.
        give: Of the landing to come.
        bent: Extra knee bend just before contact, rad, where the leg would be too straight.
    """
    span = end_s - start_s
    if span < HOP_SWING_S:
        return _hop_swing(start, start_s, end, end_s, bent, give)
    full = min(max((span - 0.10) / (RUN_SWING_S - 0.10), 0.0), 1.0)
    faster = speed_mps - 2.5
    deg = math.radians(1.0)

    def landing(late: float, last: float, rate: float) -> tuple[float, float, float]:
        """Return a joint from 0.76 of the swing on, turned back almost evenly to `last`."""
        left_s, rest_s = ((1.0 - share) * span for share in LANDING)
        turned = (late - last + rate * left_s) * (rest_s / left_s) ** 2
        return late, last - rate * rest_s + LATE_TURN * turned, last

    def when(*shares: float) -> list[float]:
        return [start_s, *(start_s + share * span for share in shares), end_s]

    retracts = RETRACTS_S * max(-end.thigh_rate, 0.0)
    knee_up = max((28.5 + 6.0 * faster) * deg * full, end.thigh + 6.0 * deg * full + retracts)
    turn_s, turn = _halt(start.thigh, start.thigh_rate, 0.09 * span, 0.16)
    thigh = Curve(
        (start_s, start_s + turn_s), (start.thigh, turn), (start.thigh_rate, 0.0)
    ).followed_by(
        spline(
            [start_s + turn_s, *when(0.39, 0.63, *LANDING)[1:]],
            [
                turn,
                turn + 0.58 * (knee_up - turn),
                knee_up,
                *landing(end.thigh + 0.73 * (knee_up - end.thigh), end.thigh, end.thigh_rate),
            ],
            0.0,
            end.thigh_rate,
        ),
    )
    peak = (87.0 + 14.0 * faster) * deg * full + (1.0 - full) * 0.9
    peak = max(peak, end.flexion + 0.15)
    late = end.flexion + 0.43 * (peak - end.flexion) + bent
    knee_s, least = _halt(start.flexion, start.flexion_rate, STRAIGHTEST_S, 0.35 * start.flexion)
    flexion = Curve(
        (start_s, start_s + knee_s), (start.flexion, least), (start.flexion_rate, 0.0)
    ).followed_by(
        spline(
            [start_s + knee_s, *when(0.24, 0.47, *LANDING)[1:]],
            [
                least,
                least + 0.46 * (peak - least),
                peak,
                *landing(late, end.flexion, end.flexion_rate),
            ],
            0.0,
            end.flexion_rate,
        ),
    )
    ankle = spline(
        when(0.12, 0.42, 0.68, 0.90),
        [
            start.ankle,
            start.ankle - 8.0 * deg * full,
            -6.0 * deg,
            0.7 * end.ankle + 4.0 * deg,
            end.ankle + 2.0 * deg,
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
    return Swing(start_s, end_s, thigh, flexion, ankle, bend, give)


def _hop_swing(
    start: Joints, start_s: float, end: Joints, end_s: float, bent: float, give: Give
) -> Swing:
    """Bring a leg that hops straight to its next landing: a short, even swing, knee a little bent.

    A choice of this project: no measured hops on a treadmill were at hand.
    """
    middle_s = 0.5 * (start_s + end_s)
    times = [start_s, middle_s, end_s]
    bend_rad = math.radians(8.0) + bent

    def even(a: float, b: float, more: float, rates: tuple[float, float]) -> Curve:
        return spline(times, [a, 0.5 * (a + b) + more, b], *rates)

    thigh = even(start.thigh, end.thigh, 0.5 * bend_rad, (start.thigh_rate, end.thigh_rate))
    flexion = even(start.flexion, end.flexion, bend_rad, (start.flexion_rate, end.flexion_rate))
    ankle = even(start.ankle, end.ankle, 0.0, (start.ankle_rate, end.ankle_rate))
    bend = Curve(
        (start_s, middle_s, end_s),
        (start.bend, TOE_SPRING_RAD, TOE_SPRING_RAD),
        (start.bend_rate, 0.0, 0.0),
    )
    return Swing(start_s, end_s, thigh, flexion, ankle, bend, give)


def _halt(value: float, rate: float, within_s: float, at_most: float) -> tuple[float, float]:
    """Return how soon a joint's motion is brought to rest, and where; evenly slowed down."""
    soon_s = min(within_s, 2.0 * at_most / max(abs(rate), 1e-6))
    return soon_s, value + 0.5 * rate * soon_s


def carry(start: Joints, start_s: float) -> Swing:
    """Lift the leg that a hopper does not use and hold it bent."""
    held = Joints(math.radians(8.0), math.radians(80.0), math.radians(-12.0), TOE_SPRING_RAD)
    times = (start_s, start_s + CARRY_S)
    pairs = (
        (start.thigh, held.thigh, start.thigh_rate),
        (start.flexion, held.flexion, start.flexion_rate),
        (start.ankle, held.ankle, start.ankle_rate),
        (start.bend, held.bend, start.bend_rate),
    )
    thigh, flexion, ankle, bend = (Curve(times, (a, b), (rate, 0.0)) for a, b, rate in pairs)
    return Swing(start_s, times[1], thigh, flexion, ankle, bend)


def lift_curve(times_s: Floats, missing_m: Floats) -> Curve | None:
    """Shape a lift that makes up at least what is missing, at rest at both ends.

    Args:
        times_s: (n,) evenly spaced from the start to the end of the swing.
        missing_m: (n,) how much the shoe is too low at each, 0 where it is not.

    Returns:
        None where nothing is missing.
    """
    if not missing_m.any():
        return None
    wide = maximum_filter1d(missing_m, 7)
    smooth = np.maximum(uniform_filter1d(wide, 7), missing_m)
    smooth[0] = smooth[-1] = 0.0
    slopes = PchipInterpolator(times_s, smooth)(times_s, 1)
    slopes[0] = slopes[-1] = 0.0
    return Curve(times_s.tolist(), smooth.tolist(), slopes.tolist())


def ankle_at(body: Body, hip: complex, joints: Joints, rise_rad: float) -> complex:
    """Return the ankle in the belt's frame."""
    leg = -1j * (
        body.thigh_m * cmath.exp(1j * joints.thigh) + body.shank_m * cmath.exp(1j * joints.shank)
    )
    return hip + leg * cmath.exp(-1j * rise_rad)
