"""Plans that belong together: a programme of visits, in order."""

from __future__ import annotations

from collections.abc import Iterable

from station.coach.plan import Plan


def programmes(plans: Iterable[Plan]) -> dict[str, tuple[Plan, ...]]:
    """Return the programmes among plans, each by its name, its plans in the order of its visits.

    Args:
        plans: In any order; a plan that stands alone is passed by.
    """
    found: dict[str, list[Plan]] = {}
    for plan in plans:
        if plan.programme is not None:
            found.setdefault(plan.programme.name, []).append(plan)
    return {name: tuple(sorted(group, key=_visit)) for name, group in found.items()}


def programme_faults(plans: Iterable[Plan]) -> list[str]:
    """Return what is wrong between the plans of a programme; a visit that is not there is not.

    Args:
        plans: Those that are to be used together; plans that stand alone are passed by.

    Returns:
        One line for each visit that two plans claim to be, and for each programme whose plans
        differ in how many visits it has.
    """
    lines = []
    for name, group in programmes(plans).items():
        visits = [_visit(plan) for plan in group]
        for visit in sorted({v for v in visits if visits.count(v) > 1}):
            named = ", ".join(f'"{plan.name}"' for plan in group if _visit(plan) == visit)
            lines.append(f'programme "{name}": visit = {visit} in {named}; allowed: one plan each')
        lengths = sorted({plan.programme.of for plan in group if plan.programme})
        if len(lengths) > 1:
            told = " and ".join(str(n) for n in lengths)
            lines.append(f'programme "{name}": of = {told}; allowed: the same in all its plans')
    return lines


def next_visit(plans: Iterable[Plan], name: str, done: int) -> Plan | None:
    """Return the plan of a programme's next visit; None: it is over, or its plan is missing.

    Args:
        plans: In any order.
        name: The programme's.
        done: How many of its visits are over, 0 or more.
    """
    group = programmes(plans).get(name, ())
    return next((plan for plan in group if _visit(plan) == done + 1), None)


def _visit(plan: Plan) -> int:
    return plan.programme.visit if plan.programme else 0
