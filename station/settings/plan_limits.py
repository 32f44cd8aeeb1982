"""Holds a plan against what a bay allows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pydantic_core import PydanticCustomError

from station.coach.plan import Drill, Plan
from station.coach.plan_dose import hops_of
from station.errors import BadInput
from station.settings.plan_values import as_belt_speed
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
    fast, many = _too_fast(plan.drills, bay), _too_many_hops(plan.drills, bay)
    if not fast and not many:
        return
    more = " and ".join(
        what for what, lines in (("more belt speed", fast), ("more hops", many)) if lines
    )
    where = "" if file is None else f"{file}: "
    heading = f'{where}plan "{plan.name}" asks for {more} than bay "{bay.name}" allows'
    raise BadInput(heading, fast + many)


def limit_faults(raw: Mapping[str, Any], bay: Bay) -> list[str]:
    """Return what of a plan that holds mistakes is beyond a bay's limits as well.

    Args:
        raw: The file as parsed; what cannot be read of it is passed by.
        bay: Its limits.
    """
    tables = raw.get("drill")
    if not isinstance(tables, list):
        return []
    drills = [_readable(n, t if isinstance(t, Mapping) else {}) for n, t in enumerate(tables, 1)]
    return _too_fast(drills, bay) + _too_many_hops(drills, bay)


def _readable(number: int, raw: Mapping[str, Any]) -> Drill:
    """Make a drill of what its limits need, as far as it can be read."""
    name, kind = raw.get("name"), raw.get("kind")
    hops, steps, seconds = raw.get("hops"), raw.get("steps"), raw.get("seconds")
    try:
        speed = as_belt_speed(raw.get("belt_speed"))
    except PydanticCustomError:
        speed = None
    counted = isinstance(hops, list) and bool(hops) and all(_is_count(n) for n in hops)
    by_steps = not counted and _is_count(steps)
    by_time = not counted and not by_steps
    timed = by_time and isinstance(seconds, (int, float)) and 0.0 < seconds <= 7200.0
    return Drill(
        name=name if isinstance(name, str) and name else f"Drill {number}",
        kind="hop" if kind == "hop" else "run",
        belt_speed_mps=speed.mps if speed else None,
        belt_speed_text=speed.text if speed else None,
        hops=tuple(hops) if counted and hops is not None else (),
        steps=steps if by_steps else None,
        seconds=(float(seconds) if timed and seconds is not None else 0.0) if by_time else None,
    )


def _is_count(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 < value <= 20000


def _too_fast(drills: Sequence[Drill], bay: Bay) -> list[str]:
    limit_mps = bay.belt_speed_limit_mps
    if limit_mps is None:
        return []
    lines = []
    for number, drill in enumerate(drills, start=1):
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


def _too_many_hops(drills: Sequence[Drill], bay: Bay) -> list[str]:
    """Count the hops of a visit; a hop drill by time is taken at the usual rate."""
    counts = [(n, d, hops_of(d)) for n, d in enumerate(drills, 1) if d.kind == "hop"]
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
