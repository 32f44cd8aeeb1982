"""How plans are shown as text: all of them in short, and one in full."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Literal

from rich import box
from rich.markup import escape
from rich.table import Table

from station.coach.plan import Drill, Gate, Plan
from station.coach.plan_dose import feedback_share, hops_of, plan_hops, plan_seconds, seconds_of
from station.units import format_pace

Labelled = tuple[str, Plan]
"""A plan with what it is called by: its file's name."""


def _table(*columns: str, right: Iterable[str] = ()) -> Table:
    """Build a table narrow enough for 80 columns."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False, padding=(0, 1, 0, 0))
    for name in columns:
        justify: Literal["left", "right"] = "right" if name in set(right) else "left"
        table.add_column(name, justify=justify, no_wrap=name == "name")
    return table


# --- all in short -------------------------------------------------------------------------------


def overview(plans: Sequence[Labelled]) -> Table:
    """Build one row for each plan."""
    numbers = ("min", "drills", "hops")
    table = _table("name", "plan", *numbers, "rate up to", "coach", right=numbers)
    for label, plan in plans:
        table.add_row(
            escape(label), escape(plan.name), _minutes(plan), str(len(plan.drills)),
            str(plan_hops(plan) or "-"), _highest_rate(plan), _coach(plan),
        )  # fmt: skip
    return table


def programme_overview(plans: Sequence[Labelled]) -> Table:
    """Build one row for each visit of a programme, in its order."""
    numbers = ("visit", "min", "drills", "with feedback")
    table = _table("name", *numbers, "rate up to", "coach", right=numbers)
    for label, plan in plans:
        visit = str(plan.programme.visit) if plan.programme else "-"
        share = feedback_share(plan)
        table.add_row(
            escape(label), visit, _minutes(plan), str(len(plan.drills)),
            "-" if share is None else f"{100.0 * share:.0f} %", _highest_rate(plan), _coach(plan),
        )  # fmt: skip
    return table


def minutes_in_all(plans: Iterable[Plan]) -> str:
    """Write how long plans last together."""
    return f"{sum(plan_seconds(plan) for plan in plans) / 60.0:.0f} min"


def _minutes(plan: Plan) -> str:
    return format_pace(plan_seconds(plan))


def _coach(plan: Plan) -> str:
    attended = [drill for drill in plan.drills if drill.attended]
    if not attended:
        return "-"
    return "needed" if len(attended) == len(plan.drills) else "partly"


def _highest_rate(plan: Plan) -> str:
    rates = [drill.step_rate for drill in plan.drills if drill.step_rate is not None]
    fixed = [rate.spm for rate in rates if rate.spm is not None]
    changes = [c for rate in rates if (c := rate.change_percent) is not None]
    told = [f"{max(fixed):g} spm"] if fixed else []
    if changes:
        told.append(f"{max(changes):+g} %" if max(changes) else "own")
    return ", ".join(told) or "own"


# --- one in full --------------------------------------------------------------------------------


def summary(plan: Plan) -> str:
    """Write the line above a plan's drills."""
    hops, drills = plan_hops(plan), len(plan.drills)
    parts = [f"{_minutes(plan)} min", f"{drills} drill{'s' * (drills != 1)}"]
    if plan.programme is not None:
        visit = plan.programme
        parts.append(f'visit {visit.visit} of {visit.of} of "{visit.name}"')
    if hops:
        parts.append(f"{hops} hops")
    if plan.needs_coach:
        parts.append("a coach is needed" + (" for some drills" if _coach(plan) == "partly" else ""))
    return ", ".join(parts)


def drills_table(plan: Plan) -> Table:
    """Build one row for each drill, with what every drill has."""
    table = _table("", "drill", "kind", "belt", "step rate", "length", "feedback",
                   right=("", "length"))  # fmt: skip
    for number, drill in enumerate(plan.drills, start=1):
        rest = drill.kind == "rest"
        table.add_row(
            str(number), escape(drill.name), drill.kind, drill.belt_speed_text or "stands",
            "-" if rest else _rate(drill), _length(drill), "-" if rest else drill.feedback,
        )  # fmt: skip
    return table


def details_table(plan: Plan) -> Table | None:
    """Build one row for what else is set in drills, alike ones together; None: nothing."""
    alike: dict[str, list[int]] = {}
    for number, drill in enumerate(plan.drills, start=1):
        facts = "; ".join(_facts(drill))
        if facts:
            alike.setdefault(facts, []).append(number)
    if not alike:
        return None
    table = Table.grid(padding=(0, 2, 0, 0))
    table.add_column(justify="right", max_width=14)
    table.add_column()
    for facts, numbers in alike.items():
        table.add_row(_numbers(numbers), escape(facts))
    return table


def _numbers(numbers: list[int]) -> str:
    """Write drill numbers, with "to" for three or more in a row."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and runs[-1][-1] == number - 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    told = []
    for run in runs:
        told += [f"{run[0]} to {run[-1]}"] if len(run) > 2 else [str(n) for n in run]
    return ", ".join(told)


def _rate(drill: Drill) -> str:
    rate = drill.step_rate
    if rate is None:
        return "own"
    if rate.own:
        return "own, as measured"
    told = f"{rate.spm:g} spm" if rate.spm is not None else f"{rate.change_percent:+g} %"
    return f"own to {told}" if drill.beat and drill.beat_from == "own" else told


def _length(drill: Drill) -> str:
    if drill.steps is not None:
        return f"{drill.steps} steps"
    if drill.hops:
        return f"{hops_of(drill)} hops"
    seconds = seconds_of(drill)
    return f"{math.floor(seconds / 60)}:{seconds % 60:02.0f}"


def _facts(drill: Drill) -> list[str]:
    """Write what is set in a drill beside what the table shows."""
    facts = []
    if drill.incline_percent:
        facts.append(f"incline {drill.incline_percent:g} %")
    if drill.kind == "rest":
        return facts
    if drill.hops:
        rounds = ", ".join(str(count) for count in drill.hops)
        facts.append(f"rounds of {rounds} hops a foot, {drill.first_foot} foot first")
    if drill.kind == "lean":
        facts.append("facing the console" if drill.runner_faces == "front" else "facing rearwards")
    if drill.waist_belt:
        facts.append("waist belt on")
    if drill.landing_limit_deg is not None:
        facts.append(f"limit {drill.landing_limit_deg:g} deg")
    elif drill.landing_change_deg:
        facts.append(f"limit {drill.landing_change_deg:+g} deg to the baseline's")
    facts += _beat_and_cue(drill)
    if drill.strike_target is not None:
        facts.append(f"landings asked for: {drill.strike_target}")
    if drill.heel_settles:
        facts.append("the heel is to settle")
    if drill.advance is not None:
        facts.append(_gate(drill.advance, drill.otherwise))
    if drill.rate_test:
        facts.append("a block of a rate test")
    if drill.ask_felt:
        facts.append("asks how it felt")
    if drill.attended:
        facts.append("with a coach only")
    return facts


def _beat_and_cue(drill: Drill) -> list[str]:
    facts = []
    off = [name for name, on in (("beat", drill.beat), ("guides", drill.guides),
                                 ("view", drill.view)) if not on]  # fmt: skip
    if off:
        facts.append(f"{', '.join(off[:-1])} and {off[-1]} off" if off[1:] else f"{off[0]} off")
    if drill.beat and drill.beat_every == "stride":
        facts.append("one beat a stride")
    if drill.beat and drill.beat_ramp:
        facts.append(f"the beat changes by {100.0 * drill.beat_ramp:g} % a step")
    if drill.cue_on == "median":
        facts.append("cued on the median of three")
    if drill.withhold:
        facts.append(f"{100.0 * drill.withhold:g} % of cues withheld")
    return facts


def _gate(gate: Gate, otherwise: str) -> str:
    return (
        f"mastered at {100.0 * gate.share:g} % within of each leg over {gate.seconds:g} s, with "
        f"{gate.landings} landings and the last {gate.uncued_seconds:g} s uncued; otherwise "
        f"{otherwise}"
    )
