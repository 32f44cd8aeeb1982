"""What a coach changed of a plan's drills while it runs: target step rate and belt speed."""

from __future__ import annotations

from station.coach.plan import BELT_SPEED_MPS_RANGE, STEP_RATE_SPM_RANGE, Plan
from station.units import SpeedUnit, format_speed, parse_speed
from station.values import Belt

MOST_RATE_CHANGE_SPM = 60.0
_STEP_UNITS: dict[SpeedUnit, SpeedUnit] = {"min/mile": "mph", "min/km": "km/h"}
"""A treadmill steps in tenths of a speed, also where the coach thinks in paces."""


class DrillAdjustments:
    """Changes by drill number (from 1); they stay with their drill when it is run again."""

    def __init__(self, plan: Plan, belt_limit_mps: float | None) -> None:
        """Begin with the plan unchanged."""
        self._plan = plan
        low, high = BELT_SPEED_MPS_RANGE
        self._belt_range_mps = (low, high if belt_limit_mps is None else min(high, belt_limit_mps))
        self._rate_by_spm: dict[int, float] = {}
        self._belt: dict[int, tuple[float, str]] = {}

    def target_spm(self, number: int, baseline_spm: float | None) -> float | None:
        """Return a drill's target step rate; None: it has none, or its baseline is not known."""
        rate = self._plan.drills[number - 1].step_rate
        target = None if rate is None else rate.target_spm(baseline_spm)
        if target is None:
            return None
        low, high = STEP_RATE_SPM_RANGE
        return min(high, max(low, target + self._rate_by_spm.get(number, 0.0)))

    def change_rate(self, number: int, by_spm: float) -> None:
        """Change a drill's target; without one nothing changes."""
        rate = self._plan.drills[number - 1].step_rate
        if rate is None:
            return
        low, high = -MOST_RATE_CHANGE_SPM, MOST_RATE_CHANGE_SPM
        if rate.spm is not None:  # a change beyond the range must not have to be taken back
            low = max(low, STEP_RATE_SPM_RANGE[0] - rate.spm)
            high = min(high, STEP_RATE_SPM_RANGE[1] - rate.spm)
        changed = self._rate_by_spm.get(number, 0.0) + by_spm
        self._rate_by_spm[number] = min(high, max(low, changed))

    def belt(self, number: int) -> Belt | None:
        """Return what a drill's belt is to be set to; None: it stands."""
        drill = self._plan.drills[number - 1]
        changed = self._belt.get(number)
        return drill.belt if changed is None else Belt(changed[0], drill.incline_percent)

    def belt_text(self, number: int) -> str | None:
        """Return a drill's belt speed with its unit; None: the belt stands."""
        drill = self._plan.drills[number - 1]
        if number in self._belt:
            return self._belt[number][1]
        if drill.belt_speed_mps is None:
            return None
        return drill.belt_speed_text or format_speed(drill.belt_speed_mps, "km/h", 2)

    def change_belt(self, number: int, by_tenths: int) -> bool:
        """Change a drill's belt speed by tenths of its unit; return whether it changed.

        A speed beyond the bay's limit or a treadmill's range is not taken.
        """
        belt, text = self.belt(number), self.belt_text(number)
        if belt is None or text is None or by_tenths == 0:
            return False
        unit = parse_speed(text).unit
        tenth_mps = parse_speed(f"1 {_STEP_UNITS.get(unit, unit)}").mps / 10.0
        mps = belt.speed_mps + by_tenths * tenth_mps
        low, high = self._belt_range_mps
        if not low - 1e-9 <= mps <= high + 1e-9:
            return False
        self._belt[number] = (mps, format_speed(mps, unit, 2))
        return True
