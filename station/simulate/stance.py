"""One stance, planned whole before it begins: foot on the moving belt, hip above it, exact.

Frame: the belt's own, s along it (uphill ahead is positive), h square to it, metres, as complex
numbers. Angles of leg and trunk stay to gravity, the foot's to the belt.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from station.simulate.belt import MovingBelt
from station.simulate.bounce import G_MPS2, hip_path
from station.simulate.curve import Curve, spline
from station.simulate.foot import (
    TOE_SPRING_RAD,
    FootPoints,
    Shoe,
    foot_points,
    leg_angles,
    leg_vector,
)
from station.simulate.give import PITCH_RATE, Give
from station.simulate.parameters import Body
from station.values import Side

Drift = Callable[[float], float]
FALL = 1.2
"""The hip's speed down at contact, in falls from the middle of the flight: 0.62 m/s on the real
trial, where half the flight's fall is 0.52."""
LEFT_LOWER = 0.010
"""The hip leaves the belt at most this share of the standing height lower than it came down; a foot
that is left further behind is taken up sooner. On the real trial it leaves 9 mm higher."""
SWAY_AT_TOUCH_MPS = -0.07
"""The hip's speed along the belt at contact: it has begun to be braked."""
SLAP_SHARES = (0.0, 0.25, 0.5, 0.75)
"""Shares of the foot's coming flat at which its curve has knots."""
STRAIGHTEST_RAD = math.radians(5.0)
"""The knee keeps at least this bend all through the stance."""


@dataclass(frozen=True, slots=True)
class Touch:
    """What is decided of one stance before it is built."""

    number: int
    side: Side
    t_contact_s: float
    contact_s: float
    """Wished; shortened where the leg cannot reach so far back."""
    flight_s: float
    """Expected flight before and after, for the hip's bounce."""
    shank_rad: float
    foot_rad: float
    flexion_rad: float
    dip_m: float
    """How far the hip sinks below its height at contact."""


@dataclass(frozen=True, slots=True)
class Stance:
    """One planned stance; all curves are exact functions of time."""

    touch: Touch
    t_toe_off_s: float
    ball_s_m: float
    """Where the ball lies (or will lie) along the belt, as at the contact instant."""
    travel_at_contact_m: float
    roll_s: float
    """From here on the toe's tip is the pivot."""
    pitch: Curve
    toe: Curve | None
    """The toe part's angle after the heel has begun to rise."""
    heel_rise_s: float
    hip_h: Curve
    sway: Curve
    """Fore-aft swing of the hip within the stance, metres."""
    give: Give

    def ball_on_belt_m(self, belt: MovingBelt, t_s: float) -> float:
        """Return where the ball's place on the belt is at `t_s`."""
        return self.ball_s_m - (belt.travel_m(t_s) - self.travel_at_contact_m)

    def slowed(
        self, slowing: float, body: Body, shoe: Shoe, belt: MovingBelt, drift: Drift
    ) -> Stance:
        """Return it for a foot that came in slowed by `slowing`, m/s^2, and goes on so.

        Where the leg would not reach that far it stays as it is.
        """
        give = self.give.slowed(slowing, body)
        # Ankle and marks are where they are at the touch; the sole lies elsewhere under them.
        ball_s_m = self.ball_s_m - (give.unloaded - self.give.unloaded).real
        slower = replace(self, give=give, ball_s_m=ball_s_m)
        return slower if _out_of_reach(slower, body, shoe, belt, drift) is None else self

    def foot(self, shoe: Shoe, belt: MovingBelt, t_s: float) -> tuple[FootPoints, float, float]:
        """Return the foot at `t_s` within the stance, its pitch and its toe part's angle, rad."""
        pitch = self.pitch.value(t_s)
        toe = pitch + TOE_SPRING_RAD
        if self.toe is not None and t_s > self.heel_rise_s:
            toe = self.toe.value(t_s)
        ball = complex(self.ball_on_belt_m(belt, t_s), 0.0)
        if pitch > 0.0:  # on the heel
            ball += shoe.heel - shoe.heel * cmath.exp(1j * pitch)
        elif t_s > self.roll_s and toe < 0.0:  # on the tip of the toes
            ball += shoe.tip - shoe.tip * cmath.exp(1j * toe)
        offset = self.give.loaded(t_s - self.touch.t_contact_s)
        return foot_points(shoe, ball, pitch, toe).given(offset), pitch, toe


def pitch_curve(
    t_contact_s: float, contact_s: float, foot_rad: float, speed_mps: float
) -> tuple[Curve, Curve, float, float]:
    """Shape how the foot rolls over the belt.

    Returns:
        The pitch of the shoe's rear, the toe part's angle from heel rise on, when the heel begins
        to rise, and when the tip becomes the pivot (seconds).
    """
    size = abs(foot_rad) / math.radians(20.0)
    settle_s = min(0.034 + 0.016 * size, 0.3 * contact_s)
    flat_s = t_contact_s + settle_s
    # The foot goes on turning as it came in, on the ball, too: at force onset the real trial's
    # forefoot still turned down, and ankle and shank went on for 10 ms as if nothing had touched.
    # What turns it flat builds up from nothing: no turning force is there at the first touch.
    began = max(PITCH_RATE, -2.2 * abs(foot_rad) / settle_s)
    slap = [_slapped(share, foot_rad, began * settle_s) for share in SLAP_SHARES]
    rise_s = t_contact_s + 0.46 * contact_s
    off_s = t_contact_s + contact_s
    rise = off_s - rise_s
    faster = max(speed_mps - 2.5, 0.0)
    off = -math.radians(min(46.0 + 9.0 * faster, 70.0) if speed_mps > 1.8 else 34.0)
    toe_off = min(0.6 + 0.05 * faster, 0.75) * off
    roll_s = off_s - 0.42 * rise
    pitch = Curve(
        (
            *(t_contact_s + share * settle_s for share in SLAP_SHARES),
            *(flat_s, rise_s, rise_s + 0.6 * rise, off_s),
        ),
        (*(angle for angle, _ in slap), 0.0, 0.0, 0.38 * off, off),
        (
            *(rate / settle_s for _, rate in slap),
            *(0.0, 0.0, 1.44 * off / rise, 1.53 * off / rise),
        ),
    )
    toe = Curve(
        (rise_s, rise_s + 0.45 * rise, roll_s, off_s),
        (TOE_SPRING_RAD, 0.0, 0.0, toe_off),
        (0.0, 0.0, 0.0, 1.45 * toe_off / (0.42 * rise)),
    )
    return pitch, toe, rise_s, roll_s


def _slapped(share: float, foot_rad: float, began: float) -> tuple[float, float]:
    """Return angle and rate (per share) of a foot that comes flat, not accelerated at both ends."""
    s2, s3 = share * share, share**3
    back = 10.0 * s3 - 15.0 * s3 * share + 6.0 * s3 * s2
    on = share - 6.0 * s3 + 8.0 * s3 * share - 3.0 * s3 * s2
    back_rate = 30.0 * s2 * (1.0 - share) ** 2
    on_rate = 1.0 - 18.0 * s2 + 32.0 * s3 - 15.0 * s2 * s2
    return foot_rad * (1.0 - back) + began * on, -foot_rad * back_rate + began * on_rate


def turning(shoe: Shoe, foot_rad: float, rate: float) -> complex:
    """Return the ankle's velocity against the sole as the foot turns about its touch, m/s.

    Args:
        shoe: The shoe's shape.
        foot_rad: Pitch at contact, to the belt; toes up, or flat, it comes down on the heel.
        rate: Of the pitch, rad/s.
    """
    pivot = shoe.heel if foot_rad >= 0.0 else 0j
    return 1j * rate * (shoe.ankle - pivot) * cmath.exp(1j * foot_rad)


def plan_stance(
    body: Body, shoe: Shoe, belt: MovingBelt, rise_rad: float, touch: Touch, drift: Drift
) -> Stance:
    """Place foot and hip so that at contact the shank has exactly the angle wished.

    The hip's height at toe-off gives way, and then the contact time, until the leg reaches.

    Args:
        body: Segment lengths.
        shoe: The shoe's shape.
        belt: The belt, known until the stance ends.
        rise_rad: The belt's slope.
        touch: What was decided.
        drift: Where the runner's slow drift along the belt has the hip (s to metres).
    """
    t_c = touch.t_contact_s
    speed = belt.speed_mps(t_c)
    bounce = FALL * 0.5 * G_MPS2 * touch.flight_s
    turns, *_ = pitch_curve(t_c, touch.contact_s, touch.foot_rad, speed)
    give = Give.of(
        body,
        touch.shank_rad + touch.flexion_rad,
        touch.shank_rad,
        rise_rad,
        complex(SWAY_AT_TOUCH_MPS, -bounce),
        speed,
        turning(shoe, touch.foot_rad, turns.at(t_c)[1]),
    )
    at_touch = foot_points(shoe, 0j, touch.foot_rad, touch.foot_rad + TOE_SPRING_RAD)
    at_touch = at_touch.given(give.unloaded)
    lift = -min(at_touch.heel.imag, at_touch.ball.imag)
    leg = leg_vector(body, touch.shank_rad + touch.flexion_rad, touch.shank_rad)
    leg *= cmath.exp(-1j * rise_rad)
    hip_h = at_touch.ankle.imag + lift - leg.imag
    contact_s = touch.contact_s
    sway_amp = 0.009 * body.height_m
    ankle_s = drift(t_c) + sway_amp * 0.8 + leg.real
    # The ball's mark on the belt: for a heel landing it is where the ball will come down.
    ball_s = ankle_s - at_touch.ankle.real
    if touch.foot_rad > 0.0:
        ball_s = ankle_s - at_touch.ankle.real + at_touch.heel.real - shoe.heel.real
    straight = body.thigh_m + body.shank_m
    sink, dip = bounce, touch.dip_m
    half_fall = 0.5 * G_MPS2 * touch.flight_s
    # What falls faster than it rose left the belt higher than it comes down.
    rise_m = 2.0 * (FALL - 1.0) * half_fall**2 / G_MPS2
    for _ in range(60):
        off_s = t_c + contact_s
        pitch, toe, rise_s, roll_s = pitch_curve(t_c, contact_s, touch.foot_rad, speed)
        sway = Curve(
            (t_c, t_c + 0.55 * contact_s, off_s),
            (0.8 * sway_amp, -sway_amp, 0.4 * sway_amp),
            (SWAY_AT_TOUCH_MPS, 0.0, 0.2),
        )
        middle_s = t_c + 0.44 * contact_s
        hip = spline((t_c, middle_s, off_s), (hip_h, hip_h - dip, hip_h), -sink, half_fall)
        stance = Stance(
            touch, off_s, ball_s, belt.travel_m(t_c), roll_s, pitch, toe, rise_s, hip, sway, give
        )
        foot, _, _ = stance.foot(shoe, belt, off_s)
        ahead = foot.ankle.real - drift(off_s) - sway.value(off_s)
        bend_deg = min(14.0 + 4.0 * max(speed - 2.5, 0.0), 26.0)
        reach = straight * math.cos(0.5 * math.radians(bend_deg))
        room = reach * reach - ahead * ahead
        if room <= 0.0:
            contact_s *= 0.97
            continue
        hip_off = min(hip_h + rise_m, foot.ankle.imag + math.sqrt(room))
        if hip_off < hip_h - LEFT_LOWER * body.height_m:
            contact_s *= 0.97
            continue
        flight_s = touch.flight_s + touch.contact_s - contact_s
        up = 0.5 * G_MPS2 * flight_s + (hip_h - hip_off) / flight_s  # as a body that flies
        hip = hip_path(t_c, contact_s, hip_h, dip, hip_off, sink, up)
        stance = Stance(
            touch, off_s, ball_s, belt.travel_m(t_c), roll_s, pitch, toe, rise_s, hip, sway, give
        )
        too_far = _out_of_reach(stance, body, shoe, belt, drift)
        if too_far is None:
            return stance
        if too_far < 0.2:  # the foot slaps down faster than the hip sinks
            sink += 0.1
        elif too_far < 0.7:
            dip *= 1.15
        else:
            contact_s *= 0.97
    raise ValueError(
        f"no stance fits a runner of {body.height_m} m at {speed:.2f} m/s with shank "
        f"{math.degrees(touch.shank_rad):.1f} deg and foot {math.degrees(touch.foot_rad):.1f} deg"
    )


def _out_of_reach(
    stance: Stance, body: Body, shoe: Shoe, belt: MovingBelt, drift: Drift
) -> float | None:
    """Return where in the stance (share) the knee would be too straight; None: nowhere."""
    limit = (body.thigh_m + body.shank_m) * math.cos(0.5 * STRAIGHTEST_RAD)
    t_c, span = stance.touch.t_contact_s, stance.t_toe_off_s - stance.touch.t_contact_s
    for i in range(41):
        t_s = t_c + span * i / 40
        foot, _, _ = stance.foot(shoe, belt, t_s)
        hip = complex(drift(t_s) + stance.sway.value(t_s), stance.hip_h.value(t_s))
        if abs(foot.ankle - hip) > limit:
            return i / 40
    return None


def stance_angles(
    stance: Stance,
    body: Body,
    shoe: Shoe,
    belt: MovingBelt,
    rise_rad: float,
    drift: Drift,
    t_s: float,
) -> tuple[float, float, float, float]:
    """Return thigh, shank (to gravity), pitch and toe angle (to the belt) at `t_s`, rad."""
    foot, pitch, toe = stance.foot(shoe, belt, t_s)
    hip = complex(drift(t_s) + stance.sway.value(t_s), stance.hip_h.value(t_s))
    thigh, shank = leg_angles(body, (foot.ankle - hip) * cmath.exp(1j * rise_rad))
    return thigh, shank, pitch, toe
