"""The time at which a swinging foot is taken along by the belt, to a fraction of a frame.

Before contact the foot still runs ahead and is slowed at a nearly constant rate; once on the belt
it moves back with the belt. So each point of the foot follows

    x(t) = c - v t - a/2 max(te - t, 0)^2

with the belt's speed v known: te is when the foot has the belt's speed, a its deceleration before.
All points share te. The fit uses every frame on both sides of the contact, so that its scatter is
a few milliseconds from frames 17 or 33 ms apart.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from station.values import Floats

_GRID_S = 0.002
_LAG = 0.74
"""A foot moves back slower than the belt at contact by this times the root of the belt's speed, all
in leg lengths and seconds. The factor is that of one real runner's force-plate trial, whose shoe
had 0.53 to 0.58 of the belt's speed at force onset (2.5 m/s, leg 0.90 m). What it lags grows only
slightly with speed up to a sprint (Clark et al. 2023, J Hum Kinet 87:1, abstract: r = 0.36), so
that a fast runner's foot has a larger share of the belt's speed; the root is this project's
choice."""
_MOST_LAG = 0.75
"""As a share of the belt's speed, on a slow belt (hops)."""

_NOISE = 0.012
"""Usual scatter of a tracked point, in leg lengths."""
_LEAST_SPREAD = 0.2
"""Spread of the deceleration from strike to strike, as a share of it, at least."""
_MOST_SPREAD = 0.35
"""Over this there is no usual way to strike (hops in turns differ from first to last)."""
_LEARN = 0.15


def lag_at_contact(belt_px_s: float, leg_px: float) -> float:
    """Return how much slower than the belt a foot moves back at contact, plane pixels per second.

    Args:
        belt_px_s: The belt's speed, plane pixels per second, over 0.
        leg_px: Leg length, plane pixels.
    """
    return min(_LAG * math.sqrt(belt_px_s * leg_px), _MOST_LAG * belt_px_s)


@dataclass(frozen=True, slots=True, eq=False)
class StrikeFit:
    """What the fit found."""

    t_half_s: float
    """When the foot moved back at the belt's speed but for the lag (some half of it)."""
    t_belt_s: float
    """When it had the belt's speed."""
    deceleration: float
    """Plane pixels per s^2, mean over the points."""
    residual_px: float
    decelerations: Floats
    """(p,) of each point, plane pixels per s^2; NaN where it was not seen often enough."""


class UsualSlowing:
    """How one foot usually slows down before it strikes: steadies the next fit.

    Few frames fall into the slowing, fewest in hops and at 30 frames per second; the runner's own
    last strikes say what a single one cannot.
    """

    def __init__(self, points: int) -> None:
        """Begin with nothing known of `points` points."""
        self._share = np.full(points, np.nan)  # deceleration per belt speed, 1/s
        self._spread = _LEAST_SPREAD

    def expected(self, belt_px_s: float) -> Floats | None:
        """Return the (p,) usual decelerations, plane pixels per s^2; None where there is none."""
        if self._spread > _MOST_SPREAD or not np.isfinite(self._share).all():
            return None
        return self._share * belt_px_s

    def trust_s4(self, belt_px_s: float, leg_px: float) -> float:
        """Return the variance of a point's place by that of its deceleration, s^4."""
        spread = self._spread * belt_px_s * float(np.mean(self._share))
        return (_NOISE * leg_px / spread) ** 2

    def learn(self, fit: StrikeFit, belt_px_s: float) -> None:
        """Take in one strike; who strikes in two ways by turns (hops) is held to neither."""
        new = fit.decelerations / belt_px_s
        if not np.isfinite(self._share).all():
            self._share = np.where(np.isnan(self._share), new, self._share)
            return
        off = float(np.nanmean(new) / np.mean(self._share)) - 1.0
        size = min(abs(off), 1.0)
        self._spread = max(_LEAST_SPREAD, self._spread + _LEARN * (1.5 * size - self._spread))
        self._share = np.where(
            np.isnan(new), self._share, self._share + _LEARN * (new - self._share)
        )


def fit_strike(
    t_s: Floats,
    x: Floats,
    belt_px_s: float,
    from_s: float,
    lag_px_s: float,
    usual: Floats | None = None,
    trust_s4: float = 0.0,
) -> StrikeFit | None:
    """Fit the slowing foot over a few frames.

    Args:
        t_s: (n,) frame times.
        x: (n, p) ahead positions of the foot's points, plane pixels; NaN is left out.
        belt_px_s: The belt's speed, plane pixels per second, over 0.
        from_s: `t_belt_s` is sought from here to the last frame.
        lag_px_s: How much slower than the belt the foot moves at contact (`lag_at_contact`).
        usual: (p,) this foot's usual decelerations, or None.
        trust_s4: How firmly they are held to (see `UsualSlowing`).

    Returns:
        The fit, or None when the foot was not slowing down towards the belt's speed.
    """
    origin = t_s[-1]
    tau = t_s - origin
    grid = _GRID_S * np.arange(-max(round((origin - from_s) / _GRID_S), 1), 1)
    basis = 0.5 * np.maximum(grid[:, None] - tau[None, :], 0.0) ** 2  # (grid, n)
    known = np.isfinite(x)
    weight = known.astype(float)  # (n, p)
    y = np.where(known, x + belt_px_s * tau[:, None], 0.0)
    n = weight.sum(axis=0)
    keep = n >= 3
    if not keep.any():
        return None
    weight, y, n = weight[:, keep], y[:, keep], n[keep]
    sum_y = y.sum(axis=0)
    sum_yy = (y * y).sum(axis=0)
    sum_b = basis @ weight  # (grid, p)
    sum_bb = (basis * basis) @ weight
    sum_by = basis @ y
    spread_b = sum_bb - sum_b**2 / n
    cross = sum_by - sum_b * sum_y / n
    spread_y = sum_yy - sum_y**2 / n
    with np.errstate(divide="ignore", invalid="ignore"):
        if usual is None:
            slope = np.where(spread_b > 1e-12, cross / spread_b, 0.0)  # = -a
            left = (spread_y - slope * cross).sum(axis=1)
        else:
            slope = (cross - trust_s4 * usual[keep]) / (spread_b + trust_s4)
            left = spread_y - 2.0 * slope * cross + slope**2 * spread_b
            left = (left + trust_s4 * (slope + usual[keep]) ** 2).sum(axis=1)
    best = int(left.argmin())
    shift = 0.0
    if 0 < best < len(grid) - 1:
        a, b, c = left[best - 1 : best + 2]
        bend = a - 2.0 * b + c
        shift = 0.5 * (a - c) / bend if bend > 0.0 else 0.0
    deceleration = float(-slope[best].mean())
    if deceleration <= 0.0:
        return None
    decelerations = np.full(x.shape[1], np.nan)
    free = cross[best] / np.maximum(spread_b[best], 1e-12)  # as these frames alone show it
    decelerations[keep] = -free
    t_belt = origin + grid[best] + shift * _GRID_S
    spare = float(n.sum()) - 2.0 * len(n) - 1.0
    residual = float(np.sqrt(max(left[best], 0.0) / spare)) if spare > 0 else float("nan")
    return StrikeFit(
        float(t_belt - lag_px_s / deceleration),
        float(t_belt),
        deceleration,
        residual,
        decelerations,
    )
