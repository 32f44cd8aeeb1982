"""Least-squares fits over a few frames around an instant, with frames missing or far off."""

from __future__ import annotations

from dataclasses import dataclass

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


def local_fit(t_s: Floats, y: Floats, at_s: float, degree: int = 2) -> LocalFit | None:
    """Fit a polynomial to the samples and read it at `at_s`.

    One sample that lies over four times the median residual away is left out (a pose model's odd
    frame), then the fit is made again.

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
    powers = np.vander(tau, degree + 1, increasing=True)
    coefficients, *_ = np.linalg.lstsq(powers, z, rcond=None)
    left = z - powers @ coefficients
    if len(z) > degree + 2:
        size = np.abs(left)
        worst = int(size.argmax())
        if size[worst] > 4.0 * max(float(np.median(size)), 1e-12):
            keep = np.arange(len(z)) != worst
            powers, z = powers[keep], z[keep]
            coefficients, *_ = np.linalg.lstsq(powers, z, rcond=None)
            left = z - powers @ coefficients
    spare = len(z) - degree - 1
    residual = float(np.sqrt(left @ left / spare)) if spare > 0 else float("nan")
    try:
        inverse = np.linalg.inv(powers.T @ powers)
        error = float(np.sqrt(max(inverse[0, 0], 0.0)))
    except np.linalg.LinAlgError:
        error = float("nan")
    rate = float(coefficients[1]) if degree >= 1 else 0.0
    return LocalFit(float(coefficients[0]), rate, residual, error, len(z))
