"""Smooth curves through time, from knots: the building block of the gait."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

from scipy.interpolate import CubicSpline


class Curve:
    """A piecewise cubic through knots, with the slopes given there (C1); held outside them."""

    __slots__ = ("_slopes", "_times", "_values")

    def __init__(
        self, times_s: Sequence[float], values: Sequence[float], slopes: Sequence[float]
    ) -> None:
        """Take the knots.

        Args:
            times_s: Rising times, seconds; at least one.
            values: Value at each knot.
            slopes: Rate of change per second at each knot.
        """
        self._times = tuple(times_s)
        self._values = tuple(values)
        self._slopes = tuple(slopes)

    def at(self, t_s: float) -> tuple[float, float]:
        """Return value and rate at `t_s`; before the first and after the last knot it is held."""
        times = self._times
        if t_s <= times[0]:
            return self._values[0], self._slopes[0] if t_s == times[0] else 0.0
        if t_s >= times[-1]:
            return self._values[-1], self._slopes[-1] if t_s == times[-1] else 0.0
        i = bisect_right(times, t_s) - 1
        span = times[i + 1] - times[i]
        w = (t_s - times[i]) / span
        p0, p1 = self._values[i], self._values[i + 1]
        m0, m1 = self._slopes[i] * span, self._slopes[i + 1] * span
        c2, c3 = 3.0 * (p1 - p0) - 2.0 * m0 - m1, 2.0 * (p0 - p1) + m0 + m1
        return p0 + w * (m0 + w * (c2 + w * c3)), (m0 + w * (2.0 * c2 + 3.0 * w * c3)) / span

    def followed_by(self, then: Curve) -> Curve:
        """Return this curve with `then` after it; `then` begins at this one's last knot."""
        return Curve(
            self._times + then._times[1:],
            self._values + then._values[1:],
            self._slopes + then._slopes[1:],
        )

    def value(self, t_s: float) -> float:
        """Return the value at `t_s`."""
        return self.at(t_s)[0]


def spline(
    times_s: Sequence[float], values: Sequence[float], first_slope: float, last_slope: float
) -> Curve:
    """Build the C2 cubic spline through knots with the slopes at both ends given."""
    fitted = CubicSpline(times_s, values, bc_type=((1, first_slope), (1, last_slope)))
    return Curve(times_s, values, [float(m) for m in fitted(times_s, 1)])
