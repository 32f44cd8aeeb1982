"""How sure a landing's angle is: its standard error, from what the frames themselves show."""

from __future__ import annotations

import math

from station.measure.local_fit import LocalFit

_TIME_ERROR_S = 0.004
"""Scatter of the contact time (measured on a force-plate trial with 10 mm of noise)."""
_FAR_FACTOR = 1.5
"""The far leg is partly covered: its points scatter more than their fit shows."""
_FIRST_SCATTER_DEG = 1.5
_MOST_SCATTER_DEG = 8.0
_LEARN = 0.15


class Doubt:
    """Keeps the scatter of each leg's shank angle about its own movement."""

    def __init__(self) -> None:
        """Begin with a usual scatter."""
        self._scatter_deg = [_FIRST_SCATTER_DEG, _FIRST_SCATTER_DEG]

    def of_shank(self, side: int, near: bool, shank: LocalFit) -> float:
        """Return the standard error of a shank angle, degrees, and learn from its fit.

        Args:
            side: 0 left, 1 right.
            near: Whether this is the leg nearer the camera.
            shank: The angle's fit at the landing instant, degrees.

        Returns:
            The fit's own error together with what the contact time's error turns the shank by.
        """
        scatter = self._scatter_deg[side]
        if math.isfinite(shank.residual):
            scatter += _LEARN * (min(shank.residual, _MOST_SCATTER_DEG) - scatter)
            self._scatter_deg[side] = scatter
        error = scatter * shank.value_error * (1.0 if near else _FAR_FACTOR)
        return math.hypot(error, shank.rate * _TIME_ERROR_S)
