"""Notices a belt that nobody changed after it was asked for: the feet show the speed they had."""

from __future__ import annotations

from station.coach.belt_request import CONFIRM_OFF
from station.values import Belt

UNCHANGED_S = 8.0
"""So long somebody has to read what is asked and to press the button."""
HELD_S = 1.5
"""So long before that the belt must have been seen, at its old speed all the while."""
SAME = 0.05
"""Share by which a measured speed may differ from the one before and still be the same: the mean
of the last few stances scatters by about 2 %."""
SAME_OF_CHANGE = 0.4
"""The same as a share of what is asked: of a small change less."""


class BeltUnchanged:
    """Watches one request. Used by one thread."""

    def __init__(self, asked: Belt, before: Belt | None, ran_mps: float | None, t_s: float) -> None:
        """Begin when the belt is asked for.

        Args:
            asked: What is asked for.
            before: What it was set to until now; None: it stood, or nobody knows.
            ran_mps: What it was measured to run at until now; None: that was not to be seen. What
                is measured then is compared with what was measured, so that an error of the scale
                does not matter.
            t_s: Now, session clock.
        """
        self._asked_s = t_s
        self._ran_mps = ran_mps
        self._same = 0.0
        if before is not None and ran_mps is not None:
            change = abs(asked.speed_mps / before.speed_mps - 1.0)
            if change > CONFIRM_OFF:  # a smaller one cannot be told from none
                self._same = min(SAME, SAME_OF_CHANGE * change)
        self._since_s: float | None = None
        self.still = False
        """Whether the belt is seen to run as it did; taken back when it moves."""

    def see(self, speed_mps: float | None, t_s: float) -> bool:
        """Take the belt's measured speed.

        Args:
            speed_mps: None: it cannot be told, nobody runs on it.
            t_s: Of the picture that it was measured in.

        Returns:
            True when it is first noticed, and again after the belt had moved.
        """
        ran_mps = self._ran_mps
        if speed_mps is None or ran_mps is None or not self._runs_on(speed_mps, ran_mps):
            self._since_s = None
            self.still = False
            return False
        if self._since_s is None:
            self._since_s = t_s
        due = t_s - self._asked_s >= UNCHANGED_S and t_s - self._since_s >= HELD_S
        begins = due and not self.still
        self.still = self.still or due
        return begins

    def _runs_on(self, speed_mps: float, ran_mps: float) -> bool:
        return abs(speed_mps / ran_mps - 1.0) < self._same
