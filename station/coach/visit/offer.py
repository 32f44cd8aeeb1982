"""What of a plan is offered to a runner alone, and why the rest is not."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from station.coach.plan import Drill, Plan

LeftOut = Literal["attended", "lean", "rear", "belt_speed", "no_belt_speed", "hops", "dose"]
"""Why a drill is not offered: a coach must be there, a lean, facing rearward, over the belt-speed
cap, a belt speed that nobody set, over the hops' cap, or more than last time while still sore."""
_SPEED_SLACK_MPS = 1e-6


@dataclass(frozen=True, slots=True)
class RunnerCaps:
    """What a coach allows one runner alone."""

    belt_speed_mps: float
    hops: int = 0
    """In one visit; 0: no hop drill alone."""


@dataclass(frozen=True, slots=True)
class Dose:
    """How much a visit asked for."""

    seconds: float
    """Of running, rests left out."""
    belt_speed_mps: float
    """The fastest."""
    hops: int = 0


@dataclass(frozen=True, slots=True)
class Offer:
    """What is left of a plan for a runner alone."""

    plan: Plan | None
    """None: nothing of it."""
    left_out: tuple[tuple[Drill, LeftOut], ...] = ()


def dose_of(plan: Plan) -> Dose:
    """Return what a plan asks for at most; drills counted in steps take one third of a second each.

    That is the time of a step at 180 steps per minute.
    """
    working = [drill for drill in plan.drills if drill.kind != "rest"]
    seconds = sum(_seconds(drill) for drill in working)
    fastest = max((drill.belt_speed_mps or 0.0 for drill in working), default=0.0)
    return Dose(seconds, fastest, sum(drill.hop_count for drill in working))


def offer_alone(
    plan: Plan,
    caps: RunnerCaps,
    bay_belt_speed_mps: float | None = None,
    last: Dose | None = None,
    may_rise: bool = True,
) -> Offer:
    """Return what of a plan a runner may be led through with nobody by.

    Args:
        plan: As the coach set it.
        caps: What the coach allows this runner alone.
        bay_belt_speed_mps: The bay's own cap; None: it has none.
        last: What the last visit asked for; None: there was none.
        may_rise: False: this visit asks for no more than the last one, in belt speed, hops and
            running time; without a last visit then nothing is offered.

    Returns:
        The drills that are left, in order; rests at the start, at the end and after one another
        go with the drills that they belonged to.
    """
    speed_mps = caps.belt_speed_mps
    if bay_belt_speed_mps is not None:
        speed_mps = min(speed_mps, bay_belt_speed_mps)
    hops_left, seconds_left = caps.hops, float("inf")
    if not may_rise:
        last = last or Dose(0.0, 0.0, 0)
        speed_mps = min(speed_mps, last.belt_speed_mps)
        hops_left, seconds_left = min(hops_left, last.hops), last.seconds
    kept: list[Drill] = []
    left_out: list[tuple[Drill, LeftOut]] = []
    for drill in plan.drills:
        why = _why_not(drill, caps, speed_mps, hops_left)
        if why is None and drill.kind != "rest":
            if _seconds(drill) > seconds_left + 1e-9:
                why = "dose"
            else:
                seconds_left -= _seconds(drill)
                hops_left -= drill.hop_count
        if why is None:
            kept.append(drill)
        else:
            left_out.append((drill, why))
    kept = _without_idle_rests(kept)
    return Offer(replace(plan, drills=tuple(kept)) if kept else None, tuple(left_out))


def _seconds(drill: Drill) -> float:
    if drill.seconds is not None:
        return drill.seconds
    return (drill.steps or drill.hop_count) / 3.0


def _why_not(drill: Drill, caps: RunnerCaps, speed_mps: float, hops_left: int) -> LeftOut | None:
    """Name the first reason why a drill is not for a runner alone; None: there is none."""
    if drill.kind == "rest":
        return None
    if drill.attended:
        return "attended"
    if drill.kind == "lean" or drill.waist_belt:
        return "lean"
    if drill.runner_faces == "rear":
        return "rear"
    if drill.belt_speed_mps is None and drill.kind == "run":
        return "no_belt_speed"
    if (drill.belt_speed_mps or 0.0) > speed_mps + _SPEED_SLACK_MPS:
        return "belt_speed"
    if drill.kind == "hop" and (not drill.hops or drill.hop_count > hops_left):
        return "hops"  # hops that are counted in time or steps cannot be held to a cap
    return None


def _without_idle_rests(drills: list[Drill]) -> list[Drill]:
    kept: list[Drill] = []
    for drill in drills:
        if drill.kind == "rest" and (not kept or kept[-1].kind == "rest"):
            continue
        kept.append(drill)
    while kept and kept[-1].kind == "rest":
        kept.pop()
    return kept
