"""Puts operations into the database, each once however often it is tried."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timezone
from importlib import import_module
from typing import Any

from sqlalchemy import Connection, Table, func, select, update

from station.keep.store.facts import Operation
from station.keep.store.moments import utc_now
from station.keep.store.tables import (
    answers,
    baselines,
    drills,
    events,
    forgotten,
    runners,
    steps,
    visits,
)

_ROWS: dict[str, Table] = {"step": steps, "event": events, "answer": answers}


class VisitUnknown(Exception):
    """Something belongs to a visit that the database does not know."""


def insert_once(connection: Connection, table: Table, rows: Sequence[dict[str, Any]]) -> None:
    """Insert rows; those whose key is there already are left as they are."""
    if rows:
        connection.execute(_insert(connection, table).on_conflict_do_nothing(), rows)


def move(connection: Connection, operations: Sequence[Operation], begin: Operation | None) -> None:
    """Put operations of one visit in, within the connection's transaction.

    Args:
        connection: In a writing transaction.
        operations: In the order that they were given.
        begin: The visit's first operation, put in anew where the database does not know the visit
            (it was moved away, or set up afresh); None: not known.

    Raises:
        VisitUnknown: The visit is not there, and `begin` is None.
        SQLAlchemyError: It was not possible; nothing is in.
    """
    if not operations:
        return
    uid = str(operations[0]["visit"])
    if connection.execute(select(forgotten.c.uid).where(forgotten.c.uid == uid)).first():
        return
    for one in [o for o in operations if o["do"] == "visit"]:
        _visit(connection, one)
    visit = _number(connection, uid)
    if visit is None and begin is not None:
        _visit(connection, begin)
        visit = _number(connection, uid)
    if visit is None:
        raise VisitUnknown(uid)
    for kind, table in _ROWS.items():
        insert_once(connection, table, [_row(o, visit) for o in operations if o["do"] == kind])
    newest = {o["run"]: o for o in operations if o["do"] == "drill"}
    _replace(connection, drills, ("visit", "run"), [_row(o, visit) for o in newest.values()])
    _replace(
        connection, baselines, ("visit", "belt_mps", "incline_percent"),
        [_row(o, visit) for o in operations if o["do"] == "baseline"],
    )  # fmt: skip
    connection.execute(update(visits).where(visits.c.id == visit).values(seen=utc_now()))
    for one in [o for o in operations if o["do"] == "end"]:
        _end(connection, visit, one)


def tally(connection: Connection, visit: int) -> dict[str, Any]:
    """Return what a visit's steps come to, as columns of `visits`."""
    of = steps.c.visit == visit
    first, last, count = connection.execute(
        select(func.min(steps.c.t_contact_s), func.max(steps.c.t_contact_s), func.count())
        .select_from(steps)
        .where(of)
    ).one()
    landed: dict[str | None, int] = {
        landing: number
        for landing, number in connection.execute(
            select(steps.c.landing, func.count()).where(of).group_by(steps.c.landing)
        )
    }
    return {
        "steps": count,
        "within": landed.get("within", 0),
        "ahead": landed.get("ahead", 0),
        "running_s": 0.0 if first is None else last - first,
    }


def runner_number(connection: Connection, code: str) -> int:
    """Return a runner's number; a new code is entered."""
    insert_once(connection, runners, [{"code": code, "made": utc_now()}])
    return int(connection.execute(select(runners.c.id).where(runners.c.code == code)).scalar_one())


def _visit(connection: Connection, one: Operation) -> None:
    row = {key: one.get(key) for key in ("bay", "plan", "source", "station", "folder", "versions")}
    row |= {
        "uid": one["visit"],
        "runner": runner_number(connection, one["runner"]),
        "began": _instant(one["began"]),
        "seen": utc_now(),
        "state": "open",
    }
    insert_once(connection, visits, [row])


def _end(connection: Connection, visit: int, one: Operation) -> None:
    connection.execute(
        update(visits)
        .where(visits.c.id == visit)
        .values(
            ended=_instant(one["ended"]),
            state="ended",
            why=one.get("why"),
            steps_lost=one.get("steps_lost", 0),
            told=one.get("told"),
            plan=one.get("plan", visits.c.plan),
            **tally(connection, visit),
        )
    )


def _number(connection: Connection, uid: str) -> int | None:
    return connection.execute(select(visits.c.id).where(visits.c.uid == uid)).scalar()


def _row(one: Operation, visit: int) -> dict[str, Any]:
    return {key: value for key, value in one.items() if key != "do"} | {"visit": visit}


def _insert(connection: Connection, table: Table) -> Any:
    """Return the dialect's own insert, which can leave rows out that are there already."""
    dialect = import_module(f"sqlalchemy.dialects.{connection.dialect.name}")
    return dialect.insert(table)  # only one of the two is ever imported


def _replace(
    connection: Connection, table: Table, key: Iterable[str], rows: Sequence[dict[str, Any]]
) -> None:
    """Insert rows, or bring those that are there up to date."""
    for row in rows:  # few: a drill's, a baseline's
        insert = _insert(connection, table).values(**row)
        changed = {name: insert.excluded[name] for name in row if name not in key}
        connection.execute(insert.on_conflict_do_update(index_elements=list(key), set_=changed))


def _instant(text: str) -> datetime:
    return datetime.fromisoformat(text).astimezone(timezone.utc)
