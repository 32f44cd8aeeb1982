"""How a foot comes down: its speed at the first touch, and how shoe and foot give way after it.

At the first touch the sole sticks to the belt, but ankle and shoe upper still move: they sink and
run forward against the sole for some hundredths of a second (midsole, heel pad, arch). On one real
runner's force-plate trial (2.5 m/s) the shoe stood 15 to 20 mm above its resting height at contact,
the ankle sank at 0.6 to 0.75 m/s, the shoe moved back at 0.55 of the belt's speed and had the
belt's speed some 20 ms later, slowed as evenly as before the touch: fitted to all its contacts, the
sole's deceleration is 50 m/s^2 up to the touch, and grows by nothing after it. So a foot goes on
being slowed as it was: nothing presses yet, so nothing can change its slowing at once. Its fall,
too, is caught by a push that builds up from nothing: the trial's ankle falls fastest 10 ms after
the touch. So position, speed and slowing have no jump.

How fast the foot comes down is not chosen but follows from the leg: the hip falls, the thigh swings
back, and the shank turns as fast as the foot's speed along the belt asks. The thigh swings back
faster at a faster belt, and so the foot comes down faster: both rise in a straight line with speed
from 3.1 to 10 m/s (Clark, Meng & Stearne 2020, Biol Open 9:bio053546, abstract). The line here
passes near the real trial (+35 deg/s at 2.5 m/s) and a captured run at 3.56 m/s (-100 to -135).
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass, replace

from station.simulate.parameters import Body

PITCH_RATE = -1.2
"""The foot turns down at this rate as it comes in, rad/s."""
_LAG_MPS = 1.1
"""How much slower than the belt a foot moves back at contact, at 2.5 m/s and 1.81 m standing height
(the real trial). It grows as the root of both: a runner twice as tall is the same runner at twice
the squared speed, and what the foot lags grows only slightly with speed (Clark et al. 2023, J Hum
Kinet 87:1, abstract: r = 0.36). The root is this project's choice."""
_SLIDE_S = 0.019
"""From the touch until the foot has the belt's speed, as long as its swing is not planned."""
_LEAST_SLOWING, _SHORTEST_S = 15.0, 0.010
"""A shoe is slowed by so much, m/s^2, at least, and has the belt's speed no sooner."""
_SINK_S = 0.045
"""From the touch until the foot lies firm, at 2.5 m/s; shorter as the belt is faster."""
_SINK_SPAN_S = (0.020, 0.045)
_GIVES_SHARE = 0.010
"""Shoe and foot give no further than this share of the standing height (18 mm at 1.75 m), down or
along."""
_SINK_MPS = (0.35, 1.6)
"""A sole meets the belt no slower and no faster (this project's choice)."""
_THIGH_DEG_S = (30.0, -75.0)
"""Rate of the thigh at contact at 2.5 m/s, and its change per m/s; positive swings ahead."""
_RETURN_S = 0.12


def thigh_rate(speed_mps: float) -> float:
    """Return how fast the thigh turns at contact, rad/s, positive ahead (see the module)."""
    base, slope = _THIGH_DEG_S
    return math.radians(base + slope * (speed_mps - 2.5))


def lag_mps(speed_mps: float, height_m: float) -> float:
    """Return how much slower than the belt a shoe moves back at the touch, m/s."""
    return _LAG_MPS * math.sqrt(speed_mps / 2.5 * height_m / 1.81)


@dataclass(frozen=True, slots=True)
class Give:
    """The give of one landing, in the belt's frame (along + i square to it), metres."""

    unloaded: complex
    """Offset of ankle and shoe marks against the firm shoe while nothing presses."""
    sink_s: float
    """From the touch until the foot lies firm."""
    lag_mps: float
    """How much slower than the belt the shoe moves back at the touch."""
    slide_s: float
    """From the touch until it has the belt's speed."""
    slowing: float
    """Its deceleration at the touch, m/s^2."""

    @classmethod
    def of(
        cls,
        body: Body,
        thigh: float,
        shank: float,
        rise_rad: float,
        hip_mps: complex,
        speed_mps: float,
        turning_mps: complex,
    ) -> Give:
        """Return the give of a leg that comes down on a belt, slowed as usual.

        Args:
            body: Segment lengths.
            thigh: At contact, to gravity, rad.
            shank: At contact, to gravity, rad.
            rise_rad: The belt's slope.
            hip_mps: The hip's velocity in the belt's frame (along + i square to it).
            speed_mps: Belt speed.
            turning_mps: The ankle's velocity against the sole, as the foot turns about its touch.
        """
        lag = lag_mps(speed_mps, body.height_m)
        by_thigh = 1j * cmath.exp(1j * (thigh - rise_rad)) * -1j * body.thigh_m
        by_shank = 1j * cmath.exp(1j * (shank - rise_rad)) * -1j * body.shank_m
        leg_mps = by_thigh * thigh_rate(speed_mps)
        along = lag - speed_mps + turning_mps.real - hip_mps.real - leg_mps.real
        leg_mps += by_shank * (along / by_shank.real)
        sink = -(hip_mps + leg_mps - turning_mps).imag
        sink = min(max(sink, _SINK_MPS[0]), _SINK_MPS[1])
        sink_s = min(max(_SINK_S * 2.5 / speed_mps, _SINK_SPAN_S[0]), _SINK_SPAN_S[1])
        sink_s = min(sink_s, 2.0 * _GIVES_SHARE * body.height_m / sink)
        return cls(0.5j * sink * sink_s, sink_s, lag, 0.0, 0.0).slowed(lag / _SLIDE_S, body)

    def slowed(self, slowing: float, body: Body) -> Give:
        """Return it for a shoe that comes in slowed by `slowing`, m/s^2, and goes on so.

        Where that would shear shoe and foot further than they give, they stiffen on the way.
        """
        lag = self.lag_mps
        slowing = min(max(slowing, _LEAST_SLOWING), lag / _SHORTEST_S)
        slide_s = lag / slowing
        far = 0.5 * lag * slide_s
        most = _GIVES_SHARE * body.height_m
        if far > most:
            far = most
            root = math.sqrt((lag / 1.5) ** 2 - slowing * far / 1.5)
            slide_s = (lag / 1.5 - root) * 3.0 / slowing
        unloaded = complex(-far, self.unloaded.imag)
        return replace(self, unloaded=unloaded, slide_s=slide_s, slowing=slowing)

    @property
    def rate_at_touch(self) -> complex:
        """Speed of the joints against the sole at the instant of contact, m/s."""
        return complex(self.lag_mps, -2.0 * self.unloaded.imag / self.sink_s)

    def loaded(self, since_touch_s: float) -> complex:
        """Return the offset in stance, `since_touch_s` after the first touch."""
        s = min(max(since_touch_s, 0.0), self.slide_s)
        stiffer = (self.lag_mps - self.slowing * self.slide_s) / (3.0 * self.slide_s**2)
        along = self.unloaded.real + s * (self.lag_mps - s * (0.5 * self.slowing + s * stiffer))
        u = min(max(since_touch_s / self.sink_s, 0.0), 1.0)
        return complex(along, self.unloaded.imag * (1.0 - 2.0 * u + 2.0 * u**3 - u**4))

    def returning(self, since_toe_off_s: float, swing_s: float) -> complex:
        """Return the offset in swing: the shoe takes its shape again soon after toe-off."""
        share = min(max(since_toe_off_s / min(_RETURN_S, 0.6 * swing_s), 0.0), 1.0)
        return self.unloaded * share * share * (3.0 - 2.0 * share)
