"""How much a plan asks of a runner: time, hops, and how much of its practice has feedback."""

from __future__ import annotations

import math

from station.coach.cueing import fading_interval
from station.coach.plan import Drill, Plan

USUAL_STEPS_SPM = 170.0
"""Stands in for the rate of a drill by steps that names none (common practice, no source)."""
USUAL_HOPS_SPM = 150.0
"""Hops on one foot a minute, where a hop drill names no rate (common practice, no source)."""


def seconds_of(drill: Drill) -> float:
    """Return how long a drill lasts, seconds; one by steps or hops about, at the usual rate."""
    if drill.seconds is not None:
        return drill.seconds
    return 60.0 * (drill.steps or drill.hop_count) / _usual_spm(drill)


def hops_of(drill: Drill) -> int:
    """Return how many hops a drill asks for, of both feet; one by time about; 0: no hop drill."""
    if drill.kind != "hop":
        return 0
    if drill.seconds is None:
        return drill.steps or drill.hop_count
    return math.ceil(drill.seconds * _usual_spm(drill) / 60.0)


def plan_seconds(plan: Plan) -> float:
    """Return how long a plan lasts, rests included, seconds; waiting for the belt comes on top."""
    return sum(seconds_of(drill) for drill in plan.drills)


def plan_hops(plan: Plan) -> int:
    """Return how many hops a plan asks for, of both feet together."""
    return sum(hops_of(drill) for drill in plan.drills)


def cue_share(drill: Drill) -> float:
    """Return the share of a drill's landings ahead that its schedule cues, 0 to 1."""
    if drill.feedback == "every step":
        return 1.0
    if drill.feedback != "fading":
        return 0.0
    parts = 1000
    return sum(1.0 / fading_interval((i + 0.5) / parts) for i in range(parts)) / parts


def feedback_share(plan: Plan) -> float | None:
    """Return the share of a plan's practice that has feedback, 0 to 1, weighted by time.

    Practice is every run drill from the first on that does more than let the runner be: the
    warm-up and the baseline before it do not count, nor do rests.

    Returns:
        None where nothing is practised.
    """
    runs = [drill for drill in plan.drills if drill.kind == "run"]
    while runs and runs[0].gives_baseline:
        runs.pop(0)
    total_s = sum(seconds_of(drill) for drill in runs)
    if total_s <= 0.0:
        return None
    return sum(cue_share(drill) * seconds_of(drill) for drill in runs) / total_s


def _usual_spm(drill: Drill) -> float:
    rate = drill.step_rate
    if rate is not None and rate.spm is not None:
        return rate.spm
    return USUAL_HOPS_SPM if drill.kind == "hop" else USUAL_STEPS_SPM
