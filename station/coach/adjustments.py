"""What a coach changed of a plan's drills while it runs: rate, belt speed, limit, feedback."""

from __future__ import annotations

from station.coach.plan import BELT_SPEED_MPS_RANGE, SLOW_BELT_MPS, STEP_RATE_SPM_RANGE, Plan
from station.units import SpeedUnit, format_speed, parse_speed
from station.values import Belt

MOST_RATE_CHANGE_SPM = 60.0
MOST_LIMIT_CHANGE_DEG = 10.0
_STEP_UNITS: dict[SpeedUnit, SpeedUnit] = {"min/mile": "mph", "min/km": "km/h"}
"""A treadmill steps in tenths of a speed, also where the coach thinks in paces."""


class DrillAdjustments:
    """Changes by drill number (from 1); they stay with their drill when it is run again."""

    def __init__(self, plan: Plan, belt_limit_mps: float | None) -> None:
        """Begin with the plan unchanged.

        Args:
            plan: The drills.
            belt_limit_mps: No belt speed is asked beyond; None: only beyond what treadmills do.
        """
        self._plan = plan
        low, high = BELT_SPEED_MPS_RANGE
        self._belt_range_mps = (low, high if belt_limit_mps is None else min(high, belt_limit_mps))
        self._rate_by_spm: dict[int, float] = {}
        self._belt: dict[int, tuple[float, str]] = {}
        self._limit_by_deg: dict[int, float] = {}
        self._feedback_off: set[int] = set()

    # --- step rate ------------------------------------------------------------------------------

    def target_spm(self, number: int, baseline_spm: float | None) -> float | None:
        """Return a drill's target step rate; None: it has none, or its baseline is not known.

        In a rest nobody is asked for a rate, whatever the plan says: nothing rises from it.
        """
        drill = self._plan.drills[number - 1]
        rate = None if drill.kind == "rest" else drill.step_rate
        target = None if rate is None else rate.target_spm(baseline_spm)
        if target is None:
            return None
        low, high = STEP_RATE_SPM_RANGE
        return min(high, max(low, target + self._rate_by_spm.get(number, 0.0)))

    def change_rate(self, number: int, by_spm: float) -> bool:
        """Change a drill's target; return whether it has one."""
        rate = self._plan.drills[number - 1].step_rate
        if rate is None:
            return False
        low, high = -MOST_RATE_CHANGE_SPM, MOST_RATE_CHANGE_SPM
        if rate.spm is not None:  # a change beyond the range must not have to be taken back
            low = max(low, STEP_RATE_SPM_RANGE[0] - rate.spm)
            high = min(high, STEP_RATE_SPM_RANGE[1] - rate.spm)
        changed = self._rate_by_spm.get(number, 0.0) + by_spm
        self._rate_by_spm[number] = min(high, max(low, changed))
        return True

    # --- belt -----------------------------------------------------------------------------------

    def belt(self, number: int) -> Belt | None:
        """Return what a drill's belt is to be set to, never beyond the limit; None: it stands."""
        drill = self._plan.drills[number - 1]
        if number in self._belt:
            return Belt(self._belt[number][0], drill.incline_percent)
        if self.belt_limited(number):
            return Belt(self._belt_range_mps[1], drill.incline_percent)
        return drill.belt

    def belt_limited(self, number: int) -> bool:
        """Return whether the plan asks for more than the limit allows."""
        planned = self._plan.drills[number - 1].belt_speed_mps
        return planned is not None and planned > self._belt_range_mps[1] + 1e-9

    def belt_text(self, number: int) -> str | None:
        """Return a drill's belt speed with its unit; None: the belt stands."""
        drill = self._plan.drills[number - 1]
        if number in self._belt:
            return self._belt[number][1]
        if drill.belt_speed_mps is None:
            return None
        planned = drill.belt_speed_text or format_speed(drill.belt_speed_mps, "km/h", 2)
        if self.belt_limited(number):
            return format_speed(self._belt_range_mps[1], parse_speed(planned).unit, 2)
        return planned

    def change_belt(self, number: int, by_tenths: int) -> bool:
        """Change a drill's belt speed by tenths of its unit; return whether it changed.

        A speed beyond the limit or a treadmill's range is not taken.
        """
        belt, text = self.belt(number), self.belt_text(number)
        if belt is None or text is None or by_tenths == 0:
            return False
        unit = parse_speed(text).unit
        tenth_mps = parse_speed(f"1 {_STEP_UNITS.get(unit, unit)}").mps / 10.0
        mps = belt.speed_mps + by_tenths * tenth_mps
        low, high = self._belt_range_mps
        if self._plan.drills[number - 1].slow_belt:
            high = min(high, SLOW_BELT_MPS)
        if not low - 1e-9 <= mps <= high + 1e-9:
            return False
        self._belt[number] = (min(mps, high), format_speed(mps, unit, 2))
        return True

    # --- landings -------------------------------------------------------------------------------

    def limit_by_deg(self, number: int) -> float:
        """Return what is added to a drill's landing limits, degrees; positive allows more reach."""
        return self._limit_by_deg.get(number, 0.0)

    def change_limit(self, number: int, by_deg: float) -> None:
        """Change a drill's landing limits, both legs."""
        changed = self.limit_by_deg(number) + by_deg
        self._limit_by_deg[number] = min(
            MOST_LIMIT_CHANGE_DEG, max(-MOST_LIMIT_CHANGE_DEG, changed)
        )

    def feedback_on(self, number: int) -> bool:
        """Return whether the coach lets the drill's feedback be."""
        return number not in self._feedback_off

    def set_feedback(self, number: int, on: bool) -> None:
        """Let a drill's cues, corrections and praise be, or turn them off."""
        if on:
            self._feedback_off.discard(number)
        else:
            self._feedback_off.add(number)
