"""What has been heard, kept to tell how far a step was from its beat."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable

from station.values import Heard

_KEPT = 4096  # beats: more than any step waits for


class BeatLog:
    """The beats so far, in order of time, and those already fixed for the coming instants."""

    def __init__(self) -> None:
        """Begin with none."""
        self._times_s: list[float] = []
        self._periods_s: list[float] = []
        self._forgotten = 0

    def add(self, heard: Iterable[Heard]) -> None:
        """Take what was heard; cues are passed by."""
        for event in heard:
            if event.kind == "beat" and (not self._times_s or event.t_s > self._times_s[-1]):
                self._times_s.append(event.t_s)
                self._periods_s.append(event.period_s or 0.0)
        surplus = len(self._times_s) - _KEPT
        if surplus > 0:
            del self._times_s[:surplus], self._periods_s[:surplus]
            self._forgotten += surplus

    def offset_s(self, t_s: float) -> float | None:
        """Return a time minus its nearest beat; negative is early.

        None where no beat was within half a period: none was sounding then.
        """
        after = bisect_right(self._times_s, t_s)
        near = [i for i in (after - 1, after) if 0 <= i < len(self._times_s)]
        if not near:
            return None
        best = min(near, key=lambda i: abs(t_s - self._times_s[i]))
        offset_s = t_s - self._times_s[best]
        within_s = 0.5 * self._periods_s[best] + 1e-9
        # Between two beats of a tempo that changes the nearest may be a little beyond half.
        between = 0 < after < len(self._times_s) and (
            self._times_s[after] - self._times_s[after - 1] <= 1.5 * self._periods_s[after - 1]
        )
        return offset_s if between or abs(offset_s) <= within_s else None

    def last(self, t_s: float) -> tuple[int, float, float] | None:
        """Return number (from 1), age and period in seconds of the last beat at or before `t_s`."""
        after = bisect_right(self._times_s, t_s)
        if after == 0:
            return None
        period_s = self._periods_s[after - 1]
        return self._forgotten + after, t_s - self._times_s[after - 1], period_s

    def next_s(self, t_s: float) -> float | None:
        """Return the first beat after a time, as far as it is known or follows from the last.

        None where there is no beat, or none was for so long that it must have been turned off.
        """
        after = bisect_right(self._times_s, t_s)
        if after < len(self._times_s):
            return self._times_s[after]
        if not self._times_s or not self._periods_s[-1]:
            return None
        last_s, period_s = self._times_s[-1], self._periods_s[-1]
        return last_s + period_s if t_s < last_s + period_s else None
