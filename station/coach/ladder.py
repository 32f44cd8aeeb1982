"""Which drill follows: on after mastery, and what the plan says where mastery did not come."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass

from station.coach.course import SessionEnd
from station.coach.plan import Plan
from station.values import Belt

MOST_STEPS_BACK = 2
"""From one drill; then the rest of the plan is run that is no faster."""
SLOWER_MPS = 0.01


@dataclass(frozen=True, slots=True)
class Following:
    """What comes after a drill."""

    number: int | None
    """From 1; None: the session ends."""
    why: str
    """For the record."""
    ends: SessionEnd = "plan done"
    """Why the session ends, where it does."""
    rest: bool = False
    """The runner is asked to rest first."""


class Ladder:
    """Remembers what was run again, so that every plan comes to its end. Used by one thread."""

    def __init__(self, plan: Plan, belt_of: Callable[[int], Belt | None]) -> None:
        """Begin with nothing run.

        Args:
            plan: The drills.
            belt_of: What a drill's belt is to be set to, by its number.
        """
        self._plan = plan
        self._belt_of = belt_of
        self._repeated: Counter[int] = Counter()
        self._stepped_back: Counter[int] = Counter()
        self._ceiling_mps: float | None = None
        """The belt of a rung that was never mastered: nothing faster follows."""

    def after(self, number: int, mastered: bool, fatigued: bool) -> Following:
        """Return what follows a drill that ended by itself.

        Args:
            number: The drill's.
            mastered: Its gate was met; a drill without a gate asks for nothing.
            fatigued: Its landings got worse late.
        """
        drill = self._plan.drills[number - 1]
        if mastered and (self._speed(number) or 0.0) >= (self._ceiling_mps or 0.0):
            self._ceiling_mps = None
        if drill.advance is None or mastered:
            return self._next(number, "mastered" if mastered else "drill over")
        if drill.otherwise == "end":
            return Following(None, "not mastered", "not mastered")
        if fatigued and drill.otherwise != "go on":
            if drill.otherwise == "step back":
                self._ceiling_mps = self._speed(number)
            calm = self._no_faster(number)
            rest = calm is not None and self._plan.drills[calm - 1].kind != "rest"
            return Following(calm, "fatigue", "fatigue", rest)
        if drill.otherwise == "step back":
            return self._step_back(number)
        if drill.otherwise == "repeat" and not self._repeated[number]:
            self._repeated[number] += 1
            return Following(number, "repeat")
        return self._next(number, "not mastered")

    def _step_back(self, number: int) -> Following:
        slower = self._slower(number)
        if slower is None and not self._repeated[number]:
            self._repeated[number] += 1
            return Following(number, "repeat, there is no slower drill before it")
        if slower is None or self._stepped_back[number] >= MOST_STEPS_BACK:
            self._ceiling_mps = self._speed(number)
            return Following(self._no_faster(number), "not mastered", "not mastered")
        self._stepped_back[number] += 1
        return Following(slower, "step back")

    def _next(self, number: int, why: str) -> Following:
        count = len(self._plan.drills)
        if self._ceiling_mps is None or number >= count:
            return Following(number + 1 if number < count else None, why)
        for after in range(number + 1, count + 1):
            if (self._speed(after) or 0.0) <= self._ceiling_mps + 1e-9:
                return Following(after, why)
        return Following(None, why, "not mastered")

    def _slower(self, number: int) -> int | None:
        """Return the nearest earlier drill of this kind at a slower belt."""
        kind, speed = self._plan.drills[number - 1].kind, self._speed(number)
        for before in range(number - 1, 0, -1):
            slower = self._speed(before)
            if self._plan.drills[before - 1].kind != kind or slower is None or speed is None:
                continue
            if slower < speed - SLOWER_MPS:
                return before
        return None

    def _no_faster(self, number: int) -> int | None:
        """Return the next drill that asks for no faster belt than this one."""
        speed = self._speed(number)
        for after in range(number + 1, len(self._plan.drills) + 1):
            other = self._speed(after)
            if other is None or (speed is not None and other <= speed + 1e-9):
                return after
        return None

    def _speed(self, number: int) -> float | None:
        belt = self._belt_of(number)
        return None if belt is None else belt.speed_mps
