"""Warns a runner who drifts back, and calls staff when nobody is to be seen on a running belt.

A runner drifting back is usually one who cannot keep up (common practice, no source). The guard
only says so: the station never drives the belt and is not the stop device.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass
from typing import Literal

from station.measure.whereabouts import Whereabouts

GuardWarning = Literal["come_forward", "stop_belt", "call_staff"]
"""Come forward, or slow the belt; hold the rails, feet to the sides, stop the belt; nobody is in
view while the belt may run: only a person ends it."""


@dataclass(frozen=True, slots=True)
class GuardRule:
    """When the guard speaks."""

    lead_s: float = 1.3
    """It warns so long before the rear foot would leave the belt at the pace of the drift."""
    least_back_m: float = 0.20
    """Behind the usual place, before a drift counts: runners wander by some 15 cm (common practice,
    no source)."""
    least_room_m: float = 0.10
    """Room behind the rear foot below which it warns whatever the pace."""
    speed_over_s: float = 0.6
    """The pace of the drift is a straight line through the last so many seconds: about two steps,
    so that the sway within a step evens out."""
    reach_over_s: float = 3.0
    """How far the rear foot goes behind the hips is the most of the last so many seconds."""
    usual_over_s: float = 20.0
    """Time constant of the usual place."""
    settled_s: float = 8.0
    """No drift is told before the usual place rests on so long a time."""
    again_within_s: float = 30.0
    going_on_s: float = 2.0
    """A first warning that is not answered in so long becomes the second one."""
    clear_s: float = 1.5
    """So long without cause takes a warning back."""
    unseen_s: float = 0.8
    """Nobody in view for so long on a belt that may run."""


class PositionGuard:
    """Watches one runner. Used by one thread; has no clock."""

    def __init__(self, belt_rear_x_m: float | None, rule: GuardRule | None = None) -> None:
        """Begin with nobody seen.

        Args:
            belt_rear_x_m: Where the belt ends behind the runner, bay frame; None: not known, then
                the end is taken 0.45 m behind the rearmost that the feet went at the usual place.
            rule: When it speaks.
        """
        self.rule = rule or GuardRule()
        self._rear_x_m = belt_rear_x_m
        self._hips: deque[tuple[float, float]] = deque()
        self._reach: deque[tuple[float, float]] = deque()
        self._usual_m: float | None = None
        self._known_s = 0.0
        self._first_s = -math.inf
        self._cause_s = -math.inf  # when there was last cause to warn
        self._seen_s: float | None = None
        self._warning: GuardWarning | None = None

    @property
    def warning(self) -> GuardWarning | None:
        """What is to be said now; None: nothing."""
        return self._warning

    def see(self, where: Whereabouts) -> GuardWarning | None:
        """Take the runner's place in one frame.

        Args:
            where: In order of time.

        Returns:
            A warning that begins now; None: nothing new. `call_staff` stays whatever is seen.
        """
        self._seen_s = where.t_s
        self._keep(where)
        if self._warning == "call_staff":
            return None
        if self._in_danger():
            return self._warn(where.t_s)
        if self._warning is not None and where.t_s - self._cause_s >= self.rule.clear_s:
            self._warning = None
        return None

    def unseen(self, t_s: float, belt_may_run: bool) -> GuardWarning | None:
        """Take a frame in which nobody is in view.

        Args:
            t_s: The frame's time.
            belt_may_run: Whether a drill with a moving belt was going on.

        Returns:
            `call_staff` once, when it has gone on for `unseen_s`; None otherwise.
        """
        if self._warning == "call_staff" or not belt_may_run:
            return None
        if self._seen_s is None:
            self._seen_s = t_s
        if t_s - self._seen_s >= self.rule.unseen_s - 1e-9:
            self._warning = "call_staff"
            return "call_staff"
        return None

    def present(self, t_s: float) -> None:
        """Note that somebody is in view, at a place that is not known yet."""
        self._seen_s = t_s

    def acknowledged(self, t_s: float) -> None:
        """Note that a person has come; the only way to end `call_staff`."""
        self._warning = None
        self._seen_s = t_s
        self._hips.clear()
        self._reach.clear()
        self._usual_m = None
        self._known_s = 0.0
        self._first_s = -math.inf

    # --- within ---------------------------------------------------------------------------------

    def _keep(self, where: Whereabouts) -> None:
        rule, t_s = self.rule, where.t_s
        if not math.isfinite(where.hips_x_m):
            return
        gap_s = t_s - self._hips[-1][0] if self._hips else 0.0
        self._hips.append((t_s, where.hips_x_m))
        while self._hips[0][0] < t_s - rule.speed_over_s:
            self._hips.popleft()
        if math.isfinite(where.rear_foot_x_m):
            self._reach.append((t_s, where.hips_x_m - where.rear_foot_x_m))
        while self._reach and self._reach[0][0] < t_s - rule.reach_over_s:
            self._reach.popleft()
        self._known_s += gap_s
        if self._usual_m is None:
            self._usual_m = where.hips_x_m
        else:  # the mean of all at first, then of the last while
            share = gap_s / max(gap_s, min(self._known_s, rule.usual_over_s), 1e-9)
            self._usual_m += share * (where.hips_x_m - self._usual_m)

    def _in_danger(self) -> bool:
        if len(self._hips) < 2 or not self._reach or self._usual_m is None:
            return False
        hips_m = sum(x for _, x in self._hips) / len(self._hips)
        reach_m = max(reach for _, reach in self._reach)
        rear_m = self._rear_x_m
        if rear_m is None:
            rear_m = self._usual_m - reach_m - 0.45
        speed_mps = min(0.0, self._speed_mps())
        middle_s = 0.5 * (self._hips[-1][0] - self._hips[0][0])
        now_m = hips_m + speed_mps * middle_s
        room_m = now_m - reach_m - rear_m
        if room_m < self.rule.least_room_m:
            return True
        if self._known_s < self.rule.settled_s:
            return False
        far_back = self._usual_m - now_m >= self.rule.least_back_m
        return far_back and room_m + speed_mps * self.rule.lead_s < 0.0

    def _speed_mps(self) -> float:
        """Return the slope of the straight line through the kept hips, m/s."""
        n = len(self._hips)
        mid_t = sum(t for t, _ in self._hips) / n
        mid_x = sum(x for _, x in self._hips) / n
        spread = sum((t - mid_t) ** 2 for t, _ in self._hips)
        if spread <= 0.0:
            return 0.0
        return sum((t - mid_t) * (x - mid_x) for t, x in self._hips) / spread

    def _warn(self, t_s: float) -> GuardWarning | None:
        self._cause_s = t_s
        if self._warning == "stop_belt":
            return None
        if self._warning == "come_forward" and t_s - self._first_s < self.rule.going_on_s - 1e-9:
            return None
        again = t_s - self._first_s <= self.rule.again_within_s
        if not again:
            self._first_s = t_s
        self._warning = "stop_belt" if again else "come_forward"
        return self._warning
