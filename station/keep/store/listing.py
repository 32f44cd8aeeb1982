"""Lists visits: filtered and sorted by the database, from the visits' own rows alone."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, Float, case, cast, func, select
from sqlalchemy.sql import Select

from station.keep.store.facts import VisitLine
from station.keep.store.tables import runners, visits

_JUDGED = visits.c.within + visits.c.ahead
SORTS: dict[str, tuple[ColumnElement[Any], bool]] = {
    "began": (visits.c.began, True),
    "runner": (runners.c.code, False),
    "bay": (func.lower(visits.c.bay), False),
    "plan": (func.lower(visits.c.plan), False),
    "steps": (visits.c.steps, True),
    "running": (visits.c.running_s, True),
    "within": (
        case((_JUDGED > 0, cast(visits.c.within, Float) / func.nullif(_JUDGED, 0)), else_=-1.0),
        True,
    ),
    "state": (visits.c.state, False),
}
"""What can be sorted by, and whether the greatest comes first."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which visits, in which order; None: whichever."""

    runner: str | None = None
    since: datetime | None = None
    until: datetime | None = None
    """Visits that began before this instant."""
    bay: str | None = None
    """Part of the bay's name, capitals or not."""
    plan: str | None = None
    broken_off: bool = False
    """Only visits that were broken off."""
    sort: str = "began"
    reverse: bool = False
    most: int | None = None


def list_visits(connection: Connection, wanted: Wanted) -> list[VisitLine]:
    """Return the visits that are wanted."""
    column, falling = SORTS[wanted.sort]
    falling ^= wanted.reverse
    asked = (
        _filtered(select(runners.c.code, visits), wanted)
        .order_by(column.desc() if falling else column.asc(), visits.c.began.desc())
        .limit(wanted.most)
    )
    return [_line(row._mapping) for row in connection.execute(asked)]


def count_visits(connection: Connection, wanted: Wanted) -> int:
    """Return how many visits there are, whatever `most` says."""
    return int(connection.execute(_filtered(select(func.count()), wanted)).scalar_one())


def visit_numbers(connection: Connection, wanted: Wanted) -> list[tuple[int, str, str]]:
    """Return number, uid and runner of the visits that are wanted, oldest first."""
    asked = _filtered(select(visits.c.id, visits.c.uid, runners.c.code), wanted)
    rows = connection.execute(asked.order_by(visits.c.began, visits.c.id)).all()
    return [(number, uid, code) for number, uid, code in rows]


def _filtered(asked: Select[Any], wanted: Wanted) -> Select[Any]:
    asked = asked.select_from(visits).join(runners, runners.c.id == visits.c.runner)
    if wanted.runner is not None:
        asked = asked.where(runners.c.code == wanted.runner)
    if wanted.since is not None:
        asked = asked.where(visits.c.began >= wanted.since)
    if wanted.until is not None:
        asked = asked.where(visits.c.began < wanted.until)
    for column, text in ((visits.c.bay, wanted.bay), (visits.c.plan, wanted.plan)):
        if text is not None:
            asked = asked.where(func.lower(column).contains(text.lower(), autoescape=True))
    return asked.where(visits.c.state == "broken off") if wanted.broken_off else asked


def _line(row: Any) -> VisitLine:
    return VisitLine(
        uid=row["uid"], runner=row["code"], bay=row["bay"], plan=row["plan"],
        source=row["source"], began=row["began"], state=row["state"], why=row["why"],
        steps=row["steps"], within=row["within"], ahead=row["ahead"], running_s=row["running_s"],
        steps_lost=row["steps_lost"], folder=row["folder"],
    )  # fmt: skip
