"""A foot on the belt: how fast it is carried back, and along which line.

Of one real runner's force-plate trial (2.5 m/s), in the belt's frame: the toe keeps its place along
the belt within 2 mm from a fifth of the stance to 85 % of it; the heel to 50 %, then it runs ahead
as the foot turns over its ball (9 mm when it is 48 mm up). The ankle slides 7 mm ahead while the
shank turns over it, so it tells nothing of speed. Heights hold only while the foot lies flat: the
toe's tip bends down as soon as the heel begins to rise.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from station.measure.history import ANKLE, HEEL, TOE
from station.values import Floats

_SETTLED_S, _SETTLED_SHARE = 0.05, 0.2
"""So long after the strike, or after this share of a short stance, the shoe has given way and lies
firm on the belt. At 5 m/s a stance of 0.12 s has the heel rising 60 ms after the strike."""
_FLAT_SHARE = 0.45
"""Until this share of the stance the foot lies flat."""
_TURNING_SHARE = 0.68
"""Until this share of the stance the heel's way over the ball is a small, known one."""
_TOE_SHARE, _LATE_TOE_SHARE = 0.55, 0.80
"""Until these shares of the stance the toe keeps its place: surely, and within some mm."""
_LATE_TOE_WEIGHT = 0.2
"""A shoe's tip bends as the heel rises: 2 mm back on the real trial, 4 mm ahead in the simulation.
All stances have that error alike, so the late toe must not count in full."""
_BALL_SHARE = 0.72
"""Where the ball lies from the heel to the tip of the shoe."""
_HEEL_OVER_BALL = 0.13
"""The heel's landmark lies so much higher than the pivot, per length: 0.03 to 0.09 by the real
trial, 0.15 in the simulation. A choice of this project between them."""
_TURNED = 0.4
"""Heel heights beyond this, per length to the ball, are bounded: a point gone astray."""
_USUAL_CONTACT_S = 0.20
"""Taken before a runner's own contact time is known; a fast one's, so that no swing is in it."""
_ODD, _NONE = 3.0, 6.0
"""A stance this many standard errors off the rest's median begins to count less, and that many off
not at all. Not left out at once: of the twenty stances of the first 10 s whichever is just beyond a
bound is decided by noise, and moved their mean by 0.6 %."""


@dataclass(frozen=True, slots=True)
class CarriedFoot:
    """One stance's measure of the belt's speed."""

    px_s: float
    """Speed back, plane pixels per second."""
    weight: float
    """Spread of its frame times, s^2: its variance is that of a point divided by this."""
    toe_over_heel: float | None = None
    """By how much faster the toe went than the heel, px/s: a tracker's points slide on the shoe."""


def carried_foot(
    tau_s: Floats, feet: Floats, contact_s: float | None, slope: float, heel_rest: float | None
) -> CarriedFoot | None:
    """Measure the belt's speed from one stance.

    Args:
        tau_s: (n,) frame times since the strike.
        feet: (n, 3, 2) ankle, heel, toe; plane pixels.
        contact_s: The runner's usual contact time, None before it is known.
        slope: Belt rise, plane y per x.
        heel_rest: The heel's usual height while the foot lies flat, over the belt's line, or None.

    Returns:
        The speed, or None with too few frames.
    """
    stance_s = contact_s or _USUAL_CONTACT_S
    along = (feet[..., 0] + slope * feet[..., 1]) / math.hypot(1.0, slope)
    heel, toe = along[:, HEEL - ANKLE], along[:, TOE - ANKLE]
    heel_share = _FLAT_SHARE
    if heel_rest is not None and contact_s is not None:
        heel_share = _TURNING_SHARE
        up = feet[:, HEEL - ANKLE, 1] - slope * feet[:, HEEL - ANKLE, 0] - heel_rest
        heel = heel - _ahead_when_up(up, feet)
    from_s = _settled_s(contact_s)
    heel_tt, heel_tx = _moments(tau_s, heel, from_s, heel_share * stance_s)
    toe_tt, toe_tx = _moments(tau_s, toe, from_s, _TOE_SHARE * stance_s)
    late_tt, late_tx = _moments(tau_s, toe, from_s, _LATE_TOE_SHARE * stance_s)
    toe_tt, toe_tx = toe_tt + _LATE_TOE_WEIGHT * late_tt, toe_tx + _LATE_TOE_WEIGHT * late_tx
    tt, tx = heel_tt + toe_tt, heel_tx + toe_tx
    if not (tt > 0.0 and tx < 0.0):
        return None
    apart = heel_tx / heel_tt - toe_tx / toe_tt if heel_tt > 0.0 and toe_tt > 0.0 else None
    return CarriedFoot(-tx / tt, tt, apart)


def _settled_s(contact_s: float | None) -> float:
    """Return from when on a foot lies firm, seconds after the strike."""
    return _SETTLED_S if contact_s is None else min(_SETTLED_S, _SETTLED_SHARE * contact_s)


def _moments(tau_s: Floats, x: Floats, from_s: float, until_s: float) -> tuple[float, float]:
    """Sums of squares of time, and of time times place, about their means; 0 with one frame."""
    use = (tau_s > from_s) & (tau_s < until_s) & np.isfinite(x)
    if use.sum() < 2:
        return 0.0, 0.0
    d = tau_s[use] - tau_s[use].mean()
    return float(d @ d), float(d @ x[use])


def _ahead_when_up(up: Floats, feet: Floats) -> Floats:
    """How far a heel (n,) that is `up` over its rest has come ahead, the foot turned on its ball.

    To second order in the angle; odd in height, so that noise about the rest height cancels.
    """
    lengths = np.linalg.norm(feet[:, TOE - ANKLE] - feet[:, HEEL - ANKLE], axis=1)
    known = lengths[np.isfinite(lengths)]
    if not len(known):
        return np.zeros_like(up)
    arm = max(_BALL_SHARE * float(np.median(known)), 1e-6)
    turned = np.clip(up / arm, -_TURNED, _TURNED)
    return np.asarray(arm * (_HEEL_OVER_BALL * turned + 0.5 * turned * np.abs(turned)))


def flat_foot(tau_s: Floats, feet: Floats, contact_s: float | None) -> Floats:
    """Return (k, 3, 2) the foot's points in the frames in which it lies flat on the belt.

    Args as in `carried_foot`; empty before the contact time is known.
    """
    if contact_s is None:
        return feet[:0]
    return feet[(tau_s > _settled_s(contact_s)) & (tau_s < _FLAT_SHARE * contact_s)]


def mean_speed(stances: Collection[CarriedFoot]) -> tuple[float, float]:
    """Return the weighted mean of stances and its standard error (from their scatter), px/s.

    Args:
        stances: At least two.
    """
    speed = np.array([s.px_s for s in stances])
    weight = np.array([s.weight for s in stances])
    # Deviates in units of a point's scatter; their median size is robust against odd stances.
    off = np.abs(speed - _weighted_median(speed, weight)) * np.sqrt(weight)
    off = off / (1.48 * float(np.median(off)) + 1e-9)
    counts = np.clip((_NONE - off) / (_NONE - _ODD), 0.0, 1.0)
    weight = weight * counts
    mean = float(speed @ weight / weight.sum())
    scatter = float(((speed - mean) ** 2) @ weight) / max(float(counts.sum()) - 1.0, 1.0)
    return mean, math.sqrt(scatter / float(weight.sum()))


def _weighted_median(values: Floats, weights: Floats) -> float:
    order = np.argsort(values)
    total = np.cumsum(weights[order])
    return float(values[order][int(np.searchsorted(total, 0.5 * total[-1]))])
