"""What has been heard, kept to tell how far a step was from its beat."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass

from station.values import Heard

_KEPT = 4096  # places: more than any step waits for


@dataclass(frozen=True, slots=True)
class NearBeat:
    """The place of a step on the beat that a time is nearest to."""

    offset_s: float
    """The time minus the place; negative is early."""
    period_s: float
    """One step, as the rate stood then."""
    number: int | None
    """Of the place; even and odd ones are for one foot each."""


class BeatLog:
    """The beats so far, in order of time, and those already fixed for the coming instants.

    Where one beat is kept per stride, the silent places between two beats are kept as well: the
    other foot's step is held against those.
    """

    def __init__(self) -> None:
        """Begin with none."""
        self._times_s: list[float] = []
        self._events: list[Heard] = []
        self._beats = 0  # that sound, up to the last place kept

    def add(self, heard: Iterable[Heard]) -> None:
        """Take what was heard; cues are passed by."""
        for event in heard:
            if event.kind not in ("beat", "offbeat"):
                continue
            if not self._times_s or event.t_s > self._times_s[-1]:
                self._times_s.append(event.t_s)
                self._events.append(event)
                self._beats += event.kind == "beat"
        surplus = len(self._times_s) - _KEPT
        if surplus > 0:
            del self._times_s[:surplus], self._events[:surplus]

    def offset_s(self, t_s: float) -> float | None:
        """Return a time minus its nearest place; negative is early.

        None where no place was within half a step: no beat was kept then.
        """
        near = self.nearest(t_s)
        return None if near is None else near.offset_s

    def nearest(self, t_s: float) -> NearBeat | None:
        """Return the place that a time belongs to, None where no beat was kept then."""
        after = bisect_right(self._times_s, t_s)
        near = [i for i in (after - 1, after) if 0 <= i < len(self._times_s)]
        if not near:
            return None
        best = min(near, key=lambda i: abs(t_s - self._times_s[i]))
        offset_s = t_s - self._times_s[best]
        period_s = self._period_s(best)
        # Between two beats of a tempo that changes the nearest may be a little beyond half.
        between = 0 < after < len(self._times_s) and (
            self._times_s[after] - self._times_s[after - 1] <= 1.5 * self._period_s(after - 1)
        )
        if not between and abs(offset_s) > 0.5 * period_s + 1e-9:
            return None
        return NearBeat(offset_s, period_s, self._events[best].number)

    def last(self, t_s: float) -> tuple[int, float, float] | None:
        """Return number (from 1), age and period in seconds of the last beat at or before `t_s`.

        Only beats that sound: the period is a stride's where one is kept per stride.
        """
        after = bisect_right(self._times_s, t_s)
        number = self._beats - sum(event.kind == "beat" for event in self._events[after:])
        for i in range(after - 1, -1, -1):
            if self._events[i].kind == "beat":
                period_s = self._period_s(i) * self._events[i].steps
                return number, t_s - self._times_s[i], period_s
        return None

    def next_s(self, t_s: float) -> float | None:
        """Return the first beat after a time, as far as it is known or follows from the last.

        None where there is no beat, or none was for so long that it must have been turned off.
        """
        after = bisect_right(self._times_s, t_s)
        for i in range(after, len(self._times_s)):
            if self._events[i].kind == "beat":
                return self._times_s[i]
        last = self.last(t_s)
        if last is None:
            return None
        _, age_s, period_s = last
        return t_s - age_s + period_s if period_s > 0.0 and age_s < period_s else None

    def step_s(self, t_s: float) -> float | None:
        """Return the time of one step on the beat at `t_s`; None: no beat had begun."""
        after = bisect_right(self._times_s, t_s)
        return self._period_s(after - 1) if after else None

    def _period_s(self, i: int) -> float:
        return self._events[i].period_s or 0.0
