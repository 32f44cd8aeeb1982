"""A time that runs off, and stands still while the coach has paused."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(slots=True)
class Timer:
    """Times are on the session's clock."""

    left_s: float
    """As of `counted_s`."""
    counted_s: float
    paused: bool = False

    @property
    def ends_s(self) -> float | None:
        """When it has run off; None: not while paused."""
        return None if self.paused else self.counted_s + self.left_s

    def left_at(self, t_s: float) -> float:
        """Return how much is left, seconds."""
        return max(0.0, self.left_s if self.paused else self.counted_s + self.left_s - t_s)

    def pause(self, t_s: float) -> None:
        """Stand still."""
        if not self.paused:
            self.left_s -= t_s - self.counted_s
            self.paused = True

    def resume(self, t_s: float) -> None:
        """Run on."""
        if self.paused:
            self.counted_s, self.paused = t_s, False
