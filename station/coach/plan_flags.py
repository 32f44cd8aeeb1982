"""What a coach should look at twice in a plan that may be run as it stands."""

from __future__ import annotations

from dataclasses import dataclass

from station.coach.baseline import SAME_SPEED_MPS, same_belt
from station.coach.plan import Drill, Plan, StepRate
from station.coach.plan_rates import rate_rises, rise_points

MOST_STEP_PERCENT = 5.0
"""A step rate rises by at most so much at a time (common practice, no source)."""
MOST_IN_ALL_PERCENT = 10.0
"""And by so much in all, against the runner's baseline: rates of 5 to 10 % above it are what was
studied (Heiderscheit 2011)."""
LEAST_GATE_S = 120.0
"""Mastery is held for two minutes at least (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class PlanFlag:
    """One thing to look at."""

    number: int
    """The drill's, from 1."""
    name: str
    key: str
    """The plan file's key that it is about."""
    text: str

    def __str__(self) -> str:
        """Write it as the mistakes of a plan file are written."""
        return f'drill {self.number} "{self.name}": {self.text}'


def plan_flags(plan: Plan) -> tuple[PlanFlag, ...]:
    """Return what a coach should look at, in the order of the drills; empty: nothing.

    Args:
        plan: Any plan that could be read.
    """
    flags: list[PlanFlag] = []
    runs: list[Drill] = []
    for number, drill in enumerate(plan.drills, start=1):
        if drill.kind == "rest":
            continue
        told = [*_rate(runs, drill), *_baseline(runs, drill), *_gate(drill), *_idle(drill)]
        flags += [PlanFlag(number, drill.name, key, text) for key, text in told]
        if drill.kind == "run":  # the rate of hops says nothing of that of running
            runs.append(drill)
    return tuple(flags)


_Told = list[tuple[str, str]]


def _rate(runs: list[Drill], drill: Drill) -> _Told:
    """Flag a beat below the runner's own rate, too far above it, or risen by too much at once."""
    rate = drill.step_rate
    if rate is None or rate.own or drill.kind != "run":
        return []
    told: _Told = []
    text, change = rate_text(rate), rate.change_percent
    before = runs[-1] if runs else None
    rises = before is not None and _belt_rises(before, drill)
    if before is not None and rises and rate_rises(before.step_rate, rate) is None:
        told.append(
            (
                "step_rate",
                f"the belt rises to {drill.belt_speed_text}, and whether step_rate = {text} rises "
                "with it cannot be told from the plan; put an untouched drill at "
                f"{drill.belt_speed_text} (feedback and beat off) between",
            )
        )
    if drill.attended:  # the coach's word is there
        return told
    if change is not None and change > MOST_IN_ALL_PERCENT:
        told.append(
            (
                "step_rate",
                f"step_rate = {text} is over +{MOST_IN_ALL_PERCENT:g} % in all; it needs a coach's "
                "word: attended = true",
            )
        )
    if change is not None and change < 0.0:
        told.append(
            (
                "step_rate",
                f"step_rate = {text} is below the runner's own rate; it needs a coach's word: "
                "attended = true",
            )
        )
    same = [run for run in runs if _same_belt(run, drill)]
    last = same[-1] if same else before
    rise = rise_points(last.step_rate if last else None, rate)
    if rise is not None and rise > MOST_STEP_PERCENT + 1e-6:
        told.append(
            (
                "step_rate",
                f"step_rate = {text} rises by {rise:.3g} % at once, over {MOST_STEP_PERCENT:g}; "
                "put a step between, or, with a coach, attended = true",
            )
        )
    return told


def _baseline(runs: list[Drill], drill: Drill) -> _Told:
    """Flag what goes by the runner's baseline where the plan takes none."""
    belt, rate = drill.belt, drill.step_rate
    here = [run for run in runs if run.gives_baseline and _same_belt(run, drill)]
    told: _Told = []
    if not here and not drill.gives_baseline:
        needs = []
        if rate is not None and rate.spm is None and not rate.own:
            needs.append(("step_rate", f"step_rate = {rate_text(rate)}", "there is no beat"))
        if drill.landing_change_deg:
            text = f"landing_change_deg = {drill.landing_change_deg:g}"
            needs.append(("landing_change_deg", text, "the limit is 8 deg for everyone"))
        where = f"at {drill.belt_speed_text}" if belt else "with the belt standing"
        for key, text, without in needs:
            told.append(
                (
                    key,
                    f"{text} needs the runner's baseline {where}, and no drill before takes one "
                    "(kind run, feedback and beat off, same speed and incline); unless an earlier "
                    f"visit did, {without}",
                )
            )
    coached = any(not run.gives_baseline and _same_belt(run, drill) for run in runs)
    if not drill.gives_baseline or coached:
        return told
    if here:
        told.append(
            ("feedback", f'untouched at the same belt as "{here[-1].name}": both make the '
             "baseline; settle in at another belt speed or as a rest")
        )  # fmt: skip
    if drill.guides:
        told.append(
            ("guides", "guides are on in what may serve as baseline: the runner sees the landings; "
             'untouched is guides = "off", too')
        )  # fmt: skip
    return told


def _gate(drill: Drill) -> _Told:
    gate = drill.advance
    if gate is None:
        return []
    told: _Told = []
    if gate.seconds < LEAST_GATE_S:
        told.append(
            ("advance", f"advance.seconds = {gate.seconds:g}: mastery is usually held for "
             f"{LEAST_GATE_S:g} seconds or more")
        )  # fmt: skip
    if drill.seconds is not None and drill.seconds < 1.5 * gate.seconds:
        told.append(
            ("advance", f"seconds = {drill.seconds:g} leaves little time to meet a gate of "
             f"{gate.seconds:g} seconds after a poor start; usual: twice as long")
        )  # fmt: skip
    return told


def _idle(drill: Drill) -> _Told:
    """Flag what makes no difference, or spoils what the drill is for."""
    told: _Told = []
    cued = drill.feedback in ("every step", "fading")
    if drill.cue_on == "median" and not cued:
        told.append(
            ("cue_on", f'cue_on = "median" does nothing with feedback = "{drill.feedback}"')
        )
    if drill.rate_test and cued:
        told.append(
            ("rate_test", "cues sound in a block of a rate test: what they change is taken for an "
             'effect of the rate; usual: feedback = "off"')
        )  # fmt: skip
    return told


def _same_belt(before: Drill, drill: Drill) -> bool:
    if before.belt is None or drill.belt is None:
        return False
    return same_belt(before.belt, drill.belt)


def _belt_rises(before: Drill, drill: Drill) -> bool:
    if before.belt_speed_mps is None or drill.belt_speed_mps is None:
        return False
    return drill.belt_speed_mps - before.belt_speed_mps > SAME_SPEED_MPS


def rate_text(rate: StepRate) -> str:
    """Write a step rate as a plan file does."""
    if rate.spm is not None:
        return f"{rate.spm:g}"
    return '"own"' if rate.own else f'"{rate.change_percent:+g} %"'
