"""A belt setting that is asked of a person: until when it waits, and what confirms it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from station.coach.timer import Timer
from station.values import Belt

CONFIRM_OFF = 0.05
"""Share by which the measured belt may be off what was asked."""
CONFIRM_S = 2.0
"""So long it must run as asked."""
UNCONFIRMED_S = 30.0
"""Then the drill goes on, and the record says that nobody confirmed it."""
Confirmed = Literal["measured", "key", "nobody"]


@dataclass(slots=True)
class BeltRequest:
    """One change that is waited for."""

    asked: Belt
    before: Belt | None
    """What it was last set to; None: it stood, or nobody knows."""
    timer: Timer
    """Until it is given up."""
    held_since_s: float | None = None
    """Since when the belt is seen to run as asked."""

    @classmethod
    def at(cls, asked: Belt, before: Belt | None, t_s: float) -> BeltRequest:
        """Ask at a time."""
        return cls(asked, before, Timer(UNCONFIRMED_S, t_s))

    def seen(self, speed_mps: float | None, t_s: float) -> bool:
        """Take the belt's measured speed; return whether it confirms what was asked.

        Args:
            speed_mps: None: it cannot be told now.
            t_s: When it was measured.
        """
        if speed_mps is None or not self._can_be_seen:
            self.held_since_s = None
            return False
        if abs(speed_mps / self.asked.speed_mps - 1.0) > CONFIRM_OFF:
            self.held_since_s = None
            return False
        if self.held_since_s is None:
            self.held_since_s = t_s
        return t_s - self.held_since_s >= CONFIRM_S - 1e-9

    @property
    def _can_be_seen(self) -> bool:
        """Whether speed tells it: where only the incline changes, the feet do not show it."""
        return self.before is None or self.before.speed_mps != self.asked.speed_mps
