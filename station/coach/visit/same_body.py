"""Whether the body that is followed is still the runner's: nobody moves from here to there at once.

The pose model follows one body. Where it lets go of the runner and takes up somebody else, the
points jump; a runner, even one carried off by the belt, moves a few centimetres from one picture
to the next.
"""

from __future__ import annotations

import math

FARTHEST_M = 0.45
"""A jump of the hips over this is another body; the pose model's own errors are far smaller."""
MORE_PER_S_M = 0.5
"""A runner who was lost from view for a moment may have drifted by this a second."""


class SameBody:
    """Follows one runner's place. Used by one thread; has no clock."""

    def __init__(self) -> None:
        """Begin with nobody seen."""
        self._x_m = math.nan
        self._t_s = 0.0

    def take(self, hips_x_m: float, t_s: float) -> bool:
        """Take where a body is.

        Args:
            hips_x_m: Bay frame; NaN (not known) tells nothing and counts as the same.
            t_s: In order of time.

        Returns:
            False: it is not the runner's. It stays so until a body is near the runner's last place.
        """
        if not math.isfinite(hips_x_m):
            return True
        allowed_m = FARTHEST_M + MORE_PER_S_M * (t_s - self._t_s)
        if math.isfinite(self._x_m) and abs(hips_x_m - self._x_m) > allowed_m:
            return False
        self._x_m, self._t_s = hips_x_m, t_s
        return True

    def forget(self) -> None:
        """Let whoever is seen next be the runner."""
        self._x_m = math.nan
