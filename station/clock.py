"""The session's clock: seconds since the session began, one for every part.

A live session runs on the monotonic clock (`WallClock`). A recording worked through as fast as it
goes runs on stream time (`StreamClock`): the loop moves it to each frame's time, and beats and
cues follow it. Tests advance a `StreamClock` by hand.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Protocol


class Clock(Protocol):
    """Tells the session's time and waits for it."""

    def now_s(self) -> float:
        """Return the seconds since the session began."""
        ...

    def wait_until(self, t_s: float, timeout_s: float) -> bool:
        """Wait for session time `t_s`, for at most `timeout_s`; return whether it has come."""
        ...


class WallClock:
    """Session time from the monotonic clock; never jumps, never set by hand."""

    def __init__(self, monotonic: Callable[[], float] = time.monotonic) -> None:
        """Start the session's time at 0 now."""
        self._monotonic = monotonic
        self._pause = threading.Event()
        self.epoch_s = monotonic()  # session time 0 on the monotonic clock

    def restart(self) -> None:
        """Make now the session's time 0: called once, when all devices are open."""
        self.epoch_s = self._monotonic()

    def now_s(self) -> float:
        """Return the seconds since construction or the restart."""
        return self._monotonic() - self.epoch_s

    def wait_until(self, t_s: float, timeout_s: float) -> bool:
        """Wait for session time `t_s`, for at most `timeout_s`; return whether it has come."""
        remaining_s = t_s - self.now_s()
        if remaining_s <= 0.0:
            return True
        self._pause.wait(min(remaining_s, timeout_s))
        return self.now_s() >= t_s


class StreamClock:
    """Session time that is moved by hand; it never runs by itself and never waits."""

    def __init__(self) -> None:
        """Start at 0."""
        self._now_s = 0.0

    def now_s(self) -> float:
        """Return the time last moved to, in seconds."""
        return self._now_s

    def move_to(self, t_s: float) -> None:
        """Move to `t_s`; a time that has passed leaves the clock where it is."""
        self._now_s = max(self._now_s, t_s)

    def wait_until(self, t_s: float, timeout_s: float) -> bool:
        """Move to `t_s` at once: stream time waits for nobody."""
        self.move_to(t_s)
        return True
