"""Answers under-runs with more latency."""

from __future__ import annotations

from collections import deque

MOST_LATENCY_S = 0.160
"""At the most a cue comes 0.12 s later than at 40 ms: still within the step that it is about."""
UNDERRUNS_MANY = 3
WITHIN_S = 10.0


class LatencyRule:
    """Says when the device should be opened anew with more latency. Used by one thread."""

    def __init__(self, latency_s: float) -> None:
        """Begin with a latency in seconds."""
        self.latency_s = latency_s
        self._seen_s: deque[float] = deque(maxlen=UNDERRUNS_MANY)
        self._count = 0

    def raised(self, now_s: float, count: int) -> bool:
        """Take note of the under-runs so far; return whether the latency was raised for them.

        Args:
            now_s: Session clock.
            count: All under-runs so far.
        """
        for _ in range(min(count - self._count, UNDERRUNS_MANY)):
            self._seen_s.append(now_s)
        self._count = count
        many = len(self._seen_s) == UNDERRUNS_MANY and now_s - self._seen_s[0] <= WITHIN_S
        if not many or self.latency_s >= MOST_LATENCY_S:
            return False
        self.latency_s = min(2.0 * self.latency_s, MOST_LATENCY_S)
        self._seen_s.clear()
        return True
