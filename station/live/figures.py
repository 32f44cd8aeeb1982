"""What each drill came to, as the session's file tells it: figures per leg, and what changed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from station.coach.baseline import SAME_SPEED_MPS, same_belt
from station.live.record import DrillRun
from station.measure.summaries import Change, LegFigures, changes, leg_figures
from station.values import Belt, Side

_SIDES: tuple[Side, Side] = ("left", "right")


@dataclass(frozen=True, slots=True)
class _Told:
    """One drill's legs."""

    run: DrillRun
    legs: dict[Side, LegFigures | None]


def told_drills(runs: Sequence[DrillRun], smallest: Mapping[str, float]) -> list[dict[str, Any]]:
    """Return each drill as plain values, in order.

    Args:
        runs: The drills as they were run.
        smallest: For each measure the smallest detectable change, in its unit.

    Returns:
        What `DrillRun.as_dict` tells, with `measures` (per leg, null under seven steps of it) and
        `changes` against the first drill at the same belt setting: null where this is the first, or
        where the belt was changed within one of them.
    """
    before: list[_Told] = []
    drills = []
    for run in runs:
        legs = {side: leg_figures(run.records, side) for side in _SIDES}
        told = _Told(run, legs)
        since = next((one for one in before if _same(one.run, run)), None)
        drills.append({
            **run.as_dict(),
            "measures": {side: leg.as_dict() if leg else None for side, leg in legs.items()},
            "changes": None if since is None else _changes(since, told, smallest),
        })  # fmt: skip
        before.append(told)
    return drills


def _same(one: DrillRun, two: DrillRun) -> bool:
    if one.belt_mps is None or two.belt_mps is None or one.drill.kind != two.drill.kind:
        return False
    if not (_kept_its_belt(one) and _kept_its_belt(two)):
        return False
    belts = [Belt(run.belt_mps or 0.0, run.drill.incline_percent) for run in (one, two)]
    return same_belt(*belts)


def _kept_its_belt(run: DrillRun) -> bool:
    """Whether the belt's speed was the same for every step (the coach may have changed it)."""
    speeds = [
        step.step_length_m / step.step_time_s
        for step in (record.step for record in run.records)
        if step.step_length_m is not None and step.step_time_s
    ]
    return not speeds or max(speeds) - min(speeds) <= SAME_SPEED_MPS


def _changes(since: _Told, now: _Told, smallest: Mapping[str, float]) -> dict[str, Any]:
    told: dict[str, Any] = {"since_drill": since.run.number}
    for side in _SIDES:
        found = changes(since.legs[side], now.legs[side], smallest)
        told[side] = {one.name: _change(one) for one in found}
    return told


def _change(one: Change) -> dict[str, float]:
    return {"before": one.before, "after": one.after, "smallest": one.smallest}
