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


def local_fit(t_s: Floats, y: Floats, at_s: float, degree: int = 2) -> LocalFit | None:
    """Fit a polynomial to the samples and read it at `at_s`.

    One odd sample (a pose model's odd frame) is left out: the one whose leaving takes most of the
    residual away, if that is more than chance would do once in twenty fits.

    Args:
        t_s: (n,) times.
        y: (n,) samples; NaN is left out.
        at_s: The instant to read at.
        degree: Highest power; lowered where too few samples are left.

    Returns:
        The fit, or None with fewer than two samples.
    """
    good = np.isfinite(y)
    tau = t_s[good] - at_s
    z = y[good]
    if len(z) < 2:
        return None
    degree = min(degree, len(z) - 1)
    frames = _frames(tau.tobytes(), degree)
    coefficients = frames.solve @ z
    left = z - frames.powers @ coefficients
    odd = _odd_one(frames, left)
    if odd is not None:
        keep = np.arange(len(z)) != odd
        frames, z = _frames(tau[keep].tobytes(), degree), z[keep]
        coefficients = frames.solve @ z
        left = z - frames.powers @ coefficients
    spare = len(z) - degree - 1
    residual = float(np.sqrt(left @ left / spare)) if spare > 0 else float("nan")
    rate = float(coefficients[1]) if degree >= 1 else 0.0
    return LocalFit(float(coefficients[0]), rate, residual, frames.value_error, len(z))


@dataclass(frozen=True, slots=True, eq=False)
class _Frames:
    """What a fit owes to its frames' times alone."""

    powers: Floats
    """(n, degree + 1)"""
    solve: Floats
    """(degree + 1, n) their pseudo-inverse: times the samples it is the least-squares fit."""
    free: Floats
    """(n,) share of a sample that the fit through it leaves."""
    value_error: float


@lru_cache(maxsize=16)
def _frames(times: bytes, degree: int) -> _Frames:
    """Return it for times about the instant; a leg's fourteen fits about one instant share it."""
    tau = np.frombuffer(times)
    powers = np.vander(tau, degree + 1, increasing=True)
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
