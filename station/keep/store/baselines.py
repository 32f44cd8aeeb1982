"""A runner's baselines, as the coaching takes them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Row, select

from station.coach.baseline import same_belt
from station.coach.verdict import Baseline, LegBaseline
from station.keep.store.tables import baselines, visits
from station.values import Belt, Side


def newest_baselines(connection: Connection, runner: int) -> tuple[tuple[str, Baseline], ...]:
    """Return a runner's newest baseline in each bay at each belt, newest first; none: empty.

    Args:
        connection: To ask.
        runner: The number of the runner's row.
    """
    rows = connection.execute(
        select(baselines, visits.c.bay.label("of_bay"))
        .join(visits, visits.c.id == baselines.c.visit)
        .where(visits.c.runner == runner)
        .order_by(visits.c.began.desc(), baselines.c.id.desc())
    ).all()
    found: list[tuple[str, Baseline]] = []
    for row in rows:
        made = _baseline(row)
        if not any(row.of_bay == bay and same_belt(made.belt, one.belt) for bay, one in found):
            found.append((row.of_bay, made))
    return tuple(found)


def _baseline(row: Row[Any]) -> Baseline:
    sides: Sequence[Side] = ("left", "right")
    left, right = (_leg(row, side) for side in sides)
    return Baseline(Belt(row.belt_mps, row.incline_percent), row.step_rate_spm, left, right)


def _leg(row: Row[Any], side: Side) -> LegBaseline | None:
    told = row._mapping
    count, median_deg = told[f"{side}_count"], told[f"{side}_median_deg"]
    if count is None or median_deg is None:
        return None
    return LegBaseline(
        count, median_deg, told[f"{side}_spread_deg"] or 0.0, told[f"{side}_contact_s"]
    )
