"""The time at which a swinging foot is taken along by the belt, to a fraction of a frame.

Before contact the foot still runs ahead and is slowed at a nearly constant rate; once on the belt
it moves back with the belt. So each point of the foot follows

    x(t) = c - v t - a/2 max(te - t, 0)^2

with the belt's speed v known: te is when the foot has the belt's speed, a its deceleration before.
All points share te. The fit uses every frame on both sides of the contact, so that its scatter is
a few milliseconds from frames 17 or 33 ms apart.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from station.values import Floats

_GRID_S = 0.002
HALF = 0.5
"""Contact is read where the foot has taken on this share of the belt's speed."""


@dataclass(frozen=True, slots=True)
class StrikeFit:
    """What the fit found."""

    t_half_s: float
    """When the foot moved back at half the belt's speed."""
    t_belt_s: float
    """When it had the belt's speed."""
    deceleration: float
    """Plane pixels per s^2, mean over the points."""
    residual_px: float


def fit_strike(t_s: Floats, x: Floats, belt_px_s: float, from_s: float) -> StrikeFit | None:
    """Fit the slowing foot over a few frames.

    Args:
        t_s: (n,) frame times.
        x: (n, p) ahead positions of the foot's points, plane pixels; NaN is left out.
        belt_px_s: The belt's speed, plane pixels per second, over 0.
        from_s: `t_belt_s` is sought from here to the last frame.

    Returns:
        The fit, or None when the foot was not slowing down towards the belt's speed.
    """
    origin = t_s[-1]
    tau = t_s - origin
    grid = np.arange(min(from_s - origin, -_GRID_S), 0.5 * _GRID_S, _GRID_S)
    basis = 0.5 * np.maximum(grid[:, None] - tau[None, :], 0.0) ** 2  # (grid, n)
    known = np.isfinite(x)
    weight = known.astype(float)  # (n, p)
    y = np.where(known, x + belt_px_s * tau[:, None], 0.0)
    n = weight.sum(axis=0)
    if (n < 3).any():
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
        slope = np.where(spread_b > 1e-12, cross / spread_b, 0.0)  # = -a
    left = (spread_y - slope * cross).sum(axis=1)
    best = int(left.argmin())
    shift = 0.0
    if 0 < best < len(grid) - 1:
        a, b, c = left[best - 1 : best + 2]
        bend = a - 2.0 * b + c
        shift = 0.5 * (a - c) / bend if bend > 0.0 else 0.0
    deceleration = float(-slope[best].mean())
    if deceleration <= 0.0:
        return None
    t_belt = origin + grid[best] + shift * _GRID_S
    spare = float(n.sum()) - 2.0 * len(n) - 1.0
    residual = float(np.sqrt(max(left[best], 0.0) / spare)) if spare > 0 else float("nan")
    return StrikeFit(
        float(t_belt - (1.0 - HALF) * belt_px_s / deceleration),
        float(t_belt),
        deceleration,
        residual,
    )
