"""Holds a plan against what a bay allows."""

from __future__ import annotations

from station.coach.plan import Plan
from station.coach.plan_dose import hops_of
from station.errors import BadInput
from station.units import format_speed, parse_speed
from station.values import Bay


def check_plan_against_bay(plan: Plan, bay: Bay, file: object = None) -> None:
    """Refuse a plan that asks for more belt speed, or more hops, than the bay allows.

    Args:
        plan: As it was read.
        bay: Its limits; a bay without a profile has the usual ones.
        file: Where the plan stands, to be named in the error; None: the plan's name must do.

    Raises:
        BadInput: With one line for each drill beyond the bay's `[limits] belt_speed`, and one where
            all hop drills together are beyond its `[limits] hops`.
    """
    fast, many = _too_fast(plan, bay), _too_many_hops(plan, bay)
    if not fast and not many:
        return
    more = " and ".join(
        what for what, lines in (("more belt speed", fast), ("more hops", many)) if lines
    )
    where = "" if file is None else f"{file}: "
    raise BadInput(
        f'{where}plan "{plan.name}" asks for {more} than bay "{bay.name}" allows', fast + many
    )


def _too_fast(plan: Plan, bay: Bay) -> list[str]:
    limit_mps = bay.belt_speed_limit_mps
    if limit_mps is None:
        return []
    lines = []
    for number, drill in enumerate(plan.drills, start=1):
        mps = drill.belt_speed_mps
        if mps is None or mps <= limit_mps + 1e-6:
            continue
        text = drill.belt_speed_text or format_speed(mps, "km/h")
        limit = format_speed(limit_mps, parse_speed(text).unit, 2)
        lines.append(
            f'drill {number} "{drill.name}": belt_speed = "{text}"; allowed in "{bay.name}": up to '
            f"{limit}"
        )
    return lines


def _too_many_hops(plan: Plan, bay: Bay) -> list[str]:
    """Count the hops of a visit; a hop drill by time is taken at the usual rate."""
    counts = [(n, d, hops_of(d)) for n, d in enumerate(plan.drills, 1) if d.kind == "hop"]
    total = sum(count for _, _, count in counts)
    if total <= bay.hops_limit:
        return []
    parts = ", ".join(
        f'drill {n} "{d.name}" {"about " if d.seconds is not None else ""}{count}'
        for n, d, count in counts
    )
    return [
        f'{total} hops in a visit, both feet together ({parts}); allowed in "{bay.name}": up to '
        f"{bay.hops_limit} ([limits] hops of bay.toml)"
    ]
