"""Put the camera driver's time stamps on the session's clock, where they can be believed."""

from __future__ import annotations

import math

OLDEST_S = 0.5
"""A picture older than this on arrival: the stamp is of another clock."""
EARLY_S = 0.002
"""A stamp may seem this much later than the arrival: the clocks are read one after the other."""
MISSES_TO_GIVE_UP = 3
LEAST_STEP_S = 1e-4


class Stamps:
    """Times of captured pictures on the session's clock: the driver's, else of their arrival.

    V4L2 stamps are of the monotonic clock, so their offset to the session's clock is fixed. Other
    drivers give 0, wall-clock or stream time: after three stamps in a row that do not fit the
    arrival, the arrival is used for good, so that the two are not mixed.
    """

    def __init__(self, offset_s: float) -> None:
        """Begin.

        Args:
            offset_s: Session time minus monotonic time, seconds.
        """
        self._offset_s = offset_s
        self._misses = 0
        self._last_s = -math.inf

    @property
    def from_driver(self) -> bool:
        """Whether the driver's stamps are (still) believed."""
        return self._misses < MISSES_TO_GIVE_UP

    def time_s(self, stamp_s: float, arrival_s: float) -> float:
        """Return the time of one picture, seconds on the session's clock, always rising.

        Args:
            stamp_s: The driver's stamp, seconds on the monotonic clock if it is any good.
            arrival_s: When the picture reached us, session clock.
        """
        t_s = arrival_s
        if self.from_driver:
            stamped_s = stamp_s + self._offset_s
            fits = math.isfinite(stamped_s) and -EARLY_S <= arrival_s - stamped_s <= OLDEST_S
            if fits and stamped_s > self._last_s:
                self._misses = 0
                t_s = stamped_s
            else:
                self._misses += 1
        self._last_s = max(t_s, self._last_s + LEAST_STEP_S)
        return self._last_s
