"""Answers under-runs: the beat is put back in its place, and many get more latency."""

from __future__ import annotations

from collections import deque

MOST_LATENCY_S = 0.160
"""At the most a cue comes 0.12 s later than at 40 ms: still within the step that it is about."""
UNDERRUNS_MANY = 3
WITHIN_S = 10.0
_GAP_MAX_S = 0.5
"""A longer jump is no under-run's."""
_GAP_KNOWN_S = 2.0
"""After an under-run the device's clock tells within so long how long it was: on a busy machine,
whose blocks are told of unevenly, only after 50 of them, over a second."""


class Gaps:
    """Tells by how much an under-run has made the device late. Used by one thread.

    Only a jump of the device's clock that an under-run goes with counts: a clock that merely seems
    to jump, as on a busy machine, must not move what is heard.
    """

    def __init__(self, count: int = 0, jumped_s: float = 0.0) -> None:
        """Begin with what has been so far: under-runs, and jumps of the device's clock in all."""
        self._count = count
        self._jumped_s = jumped_s
        self._gap_s = float("-inf")

    def late_s(self, now_s: float, count: int, jumped_s: float) -> float:
        """Take note of both as they stand now; return what is new of lateness, or 0."""
        if count > self._count:
            self._gap_s = now_s
        late_s = jumped_s - self._jumped_s
        self._count, self._jumped_s = count, jumped_s
        known = 0.0 < late_s < _GAP_MAX_S and now_s - self._gap_s < _GAP_KNOWN_S
        return late_s if known else 0.0


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
