"""The course of a session: what began and ended when, and how each drill's own time ran."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

from station.coach.plan import Drill

DrillEnd = Literal["length", "mastered", "coach", "session"]
SessionEnd = Literal["plan done", "coach"]


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
    """The countdown (number 0) or one drill as it was run: from when to when, and its pauses."""

    number: int
    began_s: float
    ended_s: float | None = None
    pauses: list[list[float]] = field(default_factory=list)
    """[from, to]; the last one's `to` is infinite while paused."""

    @property
    def paused(self) -> bool:
        """Whether a pause is open."""
        return bool(self.pauses) and math.isinf(self.pauses[-1][1])

    def pause(self, t_s: float) -> None:
        """Open a pause."""
        self.pauses.append([t_s, math.inf])

    def resume(self, t_s: float) -> None:
        """Close the open pause."""
        self.pauses[-1][1] = t_s

    def elapsed_s(self, t_s: float) -> float:
        """Return the time since its begin at `t_s`, without the pauses."""
        paused = sum(max(0.0, min(t_s, b) - a) for a, b in self.pauses)
        return max(0.0, t_s - self.began_s - paused)

    def runs_at(self, t_s: float) -> bool:
        """Return whether it ran, unpaused, at `t_s`."""
        ended = self.ended_s is not None and t_s >= self.ended_s
        return t_s >= self.began_s and not ended and not any(a <= t_s < b for a, b in self.pauses)
