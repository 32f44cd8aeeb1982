"""The course of a session: what began and ended when, and how each drill's own time ran."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

from station.coach.plan import Drill

DrillEnd = Literal["length", "mastered", "coach", "session", "time limit"]
"""`time limit`: a drill by steps or hops in which too few came for too long."""
SessionEnd = Literal["plan done", "coach", "not mastered", "fatigue"]
SpanKind = Literal["countdown", "drill", "felt"]
Standstill = Literal["pause", "belt", "rest"]
"""Why a drill's time stands still: the coach's pause; the belt is being set; a rest is asked."""


@dataclass(frozen=True, slots=True)
class DrillStarted:
    """A drill began; `number` counts from 1."""

    t_s: float
    number: int
    drill: Drill


@dataclass(frozen=True, slots=True)
class DrillEnded:
    """A drill ended, and why."""

    t_s: float
    number: int
    drill: Drill
    why: DrillEnd


@dataclass(frozen=True, slots=True)
class SessionEnded:
    """The session is done, and why."""

    t_s: float
    why: SessionEnd


Change = DrillStarted | DrillEnded | SessionEnded


@dataclass(slots=True)
class Span:
    """The countdown, a drill or the question after it: from when to when, and its standstills."""

    number: int
    """Of the drill; 0: the countdown."""
    began_s: float
    kind: SpanKind = "drill"
    ended_s: float | None = None
    stops: list[list[float]] = field(default_factory=list)
    """[from, to]; the last one's `to` is infinite while time stands still."""
    reasons: set[Standstill] = field(default_factory=set)
    """Why time stands still now; empty: it runs."""

    @property
    def paused(self) -> bool:
        """Whether the coach has paused."""
        return "pause" in self.reasons

    @property
    def stands(self) -> bool:
        """Whether time stands still, for whatever reason."""
        return bool(self.reasons)

    def stop(self, reason: Standstill, t_s: float) -> None:
        """Let time stand still for a reason, beside others that there may be."""
        if not self.reasons:
            self.stops.append([t_s, math.inf])
        self.reasons.add(reason)

    def go_on(self, reason: Standstill, t_s: float) -> None:
        """Take a reason back; time runs on once there is none left."""
        if reason in self.reasons:
            self.reasons.remove(reason)
            if not self.reasons:
                self.stops[-1][1] = t_s

    def elapsed_s(self, t_s: float) -> float:
        """Return the time since its begin at `t_s`, without the standstills."""
        stood = sum(max(0.0, min(t_s, b) - a) for a, b in self.stops)
        return max(0.0, t_s - self.began_s - stood)

    def reaches_s(self, elapsed_s: float) -> float | None:
        """Return when its own time comes to `elapsed_s`; None while time stands still."""
        if self.reasons:
            return None
        return self.began_s + elapsed_s + sum(b - a for a, b in self.stops)

    def runs_at(self, t_s: float) -> bool:
        """Return whether it ran at `t_s` and its time did not stand still."""
        ended = self.ended_s is not None and t_s >= self.ended_s
        return t_s >= self.began_s and not ended and not any(a <= t_s < b for a, b in self.stops)
