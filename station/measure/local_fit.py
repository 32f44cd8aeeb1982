"""Least-squares fits over a few frames around an instant, with frames missing or far off."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from station.values import Floats


@dataclass(frozen=True, slots=True)
class LocalFit:
    """A polynomial about an instant: its value, rate and their scatter."""

    value: float
    rate: float
    """Per second."""
    residual: float
    """Root mean square of what the fit leaves, of the samples used; NaN without any to spare."""
    value_error: float
    """Standard error of `value` for samples that scatter by 1."""
    count: int


_LIMITS = (10.9, 6.6, 5.3, 4.7, 4.3, 4.1, 4.0, 3.9, 3.8, 3.7, 3.7, 3.6, 3.6, 3.6, 3.6, 3.6)
"""Student's t for 2, 3, ... degrees of freedom, two-sided, 5 percent shared by all samples of a
second-degree fit; later ones hardly differ."""


def local_fit(
    t_s: Floats, y: Floats, at_s: float, degree: int = 2, straight_s2: float = 0.0
) -> LocalFit | None:
    """Fit a polynomial to the samples and read it at `at_s`.

    One odd sample (a pose model's odd frame) is left out: the one whose leaving takes most of the
    residual away, if that is more than chance would do once in twenty fits.

    Args:
        t_s: (n,) times.
        y: (n,) samples; NaN is left out.
        at_s: The instant to read at.
        degree: Highest power; lowered where too few samples are left.
        straight_s2: How firmly a parabola is held to a straight line: the samples' scatter by the
            usual scatter of its second-degree term, s^2. It counts as one more sample, and is left
            out like any other where it is the odd one.

    Returns:
        The fit, or None with fewer than two samples.
    """
    good = np.isfinite(y)
    tau = t_s[good] - at_s
    z = y[good]
    if len(z) < 2:
        return None
    degree = min(degree, len(z) - 1)
    straight_s2 = straight_s2 if degree == 2 else 0.0
    seen = len(z)
    if straight_s2 > 0.0:
        z = np.append(z, 0.0)
    frames = _frames(tau.tobytes(), degree, straight_s2)
    coefficients = frames.solve @ z
    left = z - frames.powers @ coefficients
    odd = _odd_one(frames, left)
    if odd is not None:
        keep = np.arange(len(z)) != odd
        if odd == seen:
            straight_s2 = 0.0
        frames, z = _frames(tau[keep[:seen]].tobytes(), degree, straight_s2), z[keep]
        coefficients = frames.solve @ z
        left = z - frames.powers @ coefficients
    spare = len(z) - degree - 1
    residual = float(np.sqrt(left @ left / spare)) if spare > 0 else float("nan")
    rate = float(coefficients[1]) if degree >= 1 else 0.0
    count = len(z) - (straight_s2 > 0.0)
    return LocalFit(float(coefficients[0]), rate, residual, frames.value_error, count)


@dataclass(frozen=True, slots=True, eq=False)
class _Frames:
    """What a fit owes to its frames' times, and to how straight it is held, alone."""

    powers: Floats
    """(n, degree + 1), the last row for what holds the fit straight, if anything does"""
    solve: Floats
    """(degree + 1, n) their pseudo-inverse: times the samples it is the least-squares fit."""
    free: Floats
    """(n,) share of a sample that the fit through it leaves."""
    value_error: float


@lru_cache(maxsize=16)
def _frames(times: bytes, degree: int, straight_s2: float) -> _Frames:
    """Return it for times about the instant; a leg's fourteen fits about one instant share it."""
    tau = np.frombuffer(times)
    powers = np.vander(tau, degree + 1, increasing=True)
    if straight_s2 > 0.0:
        powers = np.vstack([powers, [0.0, 0.0, straight_s2]])
    solve = np.linalg.pinv(powers)
    free = np.maximum(1.0 - (powers * solve.T).sum(axis=1), 1e-9)
    powers.flags.writeable = solve.flags.writeable = free.flags.writeable = False
    return _Frames(powers, solve, free, float(np.sqrt(solve[0] @ solve[0])))


def _odd_one(frames: _Frames, left: Floats) -> int | None:
    """Return the sample that lies off the fit through all others, or None.

    Its distance from that fit over its standard error (the externally studentised residual)
    follows Student's t. Residuals of the common fit alone would not do: a sample at the end pulls
    the fit to itself.
    """
    spare = frames.powers.shape[0] - frames.powers.shape[1]
    if spare < 3:
        return None
    taken = left * left / frames.free
    odd = int(taken.argmax())
    rest = max(float(left @ left - taken[odd]), 0.0)
    limit = _LIMITS[min(spare - 3, len(_LIMITS) - 1)]
    # The last term: what rounding leaves of an exact fit is not odd.
    return odd if float(taken[odd]) * (spare - 1) > limit**2 * rest + 1e-18 else None


_REACH = 9.0
"""Bandwidths beyond which a sample's weight is lost in the rounding of those near."""


def smooth_lines(tau: Floats, y: Floats, at: Floats, bandwidth_s: float) -> tuple[Floats, Floats]:
    """Smooth samples by local straight lines with Gaussian weights.

    Args:
        tau: (n,) times of the samples, seconds.
        y: (n,) samples; NaN is left out.
        at: (m,) instants to read at, one or more.
        bandwidth_s: Standard deviation of the weights.

    Returns:
        (m,) values and (m,) rates per second; NaN where too few samples are near.
    """
    reach_s = _REACH * bandwidth_s
    good = np.isfinite(y) & (tau > at.min() - reach_s) & (tau < at.max() + reach_s)
    tau, y = tau[good], y[good]
    d = tau[None, :] - at[:, None]
    w = np.exp(-0.5 * (d / bandwidth_s) ** 2)
    wd = w * d
    s0, s1, s2 = w.sum(1), wd.sum(1), (wd * d).sum(1)
    b0, b1 = w @ y, wd @ y
    det = s0 * s2 - s1 * s1
    with np.errstate(divide="ignore", invalid="ignore"):
        value = np.where((s0 > 1.0) & (det > 0.0), (s2 * b0 - s1 * b1) / det, np.nan)
        rate = np.where((s0 > 1.0) & (det > 0.0), (s0 * b1 - s1 * b0) / det, np.nan)
    return value, rate


_ENOUGH = 4.0
"""Samples near an instant, by their weights, from which on a parabola is asked of them."""


def smooth_curves(tau: Floats, y: Floats, at: Floats, bandwidth_s: float) -> Floats:
    """Smooth samples by local parabolas with Gaussian weights.

    Straight lines read the top of a bend too low, by half the bend times the bandwidth's square.
    Where few samples are near they must do.

    Args:
        tau: (n,) times of the samples, seconds.
        y: (n,) samples; NaN is left out.
        at: (m,) instants to read at.
        bandwidth_s: Standard deviation of the weights.

    Returns:
        (m,) values; NaN where too few samples are near.
    """
    lines, _ = smooth_lines(tau, y, at, bandwidth_s)
    good = np.isfinite(y)
    d = (tau[good][None, :] - at[:, None]) / bandwidth_s
    w = np.exp(-0.5 * d * d)
    powers = d[..., None] ** np.arange(5)
    moments = (w[..., None] * powers).sum(axis=1)  # (m, 5)
    rights = ((w * y[good][None, :])[..., None] * powers[..., :3]).sum(axis=1)
    enough = moments[:, 0] > _ENOUGH
    curves = lines.copy()
    if enough.any():
        matrix = moments[enough][:, np.arange(3)[:, None] + np.arange(3)[None, :]]
        curves[enough] = np.linalg.solve(matrix, rights[enough][..., None])[:, 0, 0]
    return curves
