"""Reads visits from the records."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Row, select

from station.errors import BadInput
from station.keep.folder import DEMO_SOURCE, SessionFolder
from station.keep.report.facts import AnswerFacts, SessionFacts
from station.keep.report.from_folder import film_of
from station.keep.report.rows import NEEDED, into_drills, record_of
from station.keep.report.told import Table, event_of, number, table_of, texts
from station.keep.store.facts import VisitLine
from station.keep.store.listing import Wanted
from station.keep.store.records import Records
from station.keep.store.tables import answers, drills, events, runners, steps, visits
from station.values import StepRecord


def find_visit(records: Records, wanted: Wanted, which: str | None) -> str:
    """Return the number of one visit of a runner.

    Args:
        records: Opened.
        wanted: The runner, and what else narrows it.
        which: The beginning of the visit's day and time as `station visits` lists them, such as
            `2026-11-25` or `2026-11-25 10:30`, or of its own number; None: the newest.

    Raises:
        BadInput: The runner is not known, or no visit, or more than one, fits.
    """
    lines = _lines(records, wanted)
    if which is None:
        return lines[0].uid
    found = [
        line for line in lines
        if _when(line.began).startswith(which.replace("T", " ")) or line.uid.startswith(which)
    ]  # fmt: skip
    if len(found) == 1:
        return found[0].uid
    told = "; ".join(_when(line.began) for line in (found or lines)[:8])
    if not found:
        raise BadInput(f"--visit {which!r}: {wanted.runner} has no such visit; allowed: {told}")
    raise BadInput(f"--visit {which!r}: {len(found)} visits fit; name one of them: {told}")


def find_visits(records: Records, wanted: Wanted) -> list[str]:
    """Return the numbers of a runner's visits, the oldest first; raises as `find_visit`."""
    return [line.uid for line in reversed(_lines(records, wanted))]


def _lines(records: Records, wanted: Wanted) -> list[VisitLine]:
    if wanted.runner is not None and records.runner(wanted.runner) is None:
        raise BadInput(f"{wanted.runner}: no runner of this code is on record")
    lines = records.visits(wanted)
    if not lines:
        raise BadInput(f"{wanted.runner}: no visit is on record that fits")
    return lines


def _when(began: datetime) -> str:
    return f"{began.astimezone():%Y-%m-%d %H:%M}"


def read_visit(records: Records, uid: str) -> SessionFacts:
    """Read one visit.

    Args:
        records: Opened.
        uid: Of a visit on record.
    """
    return next(read_visits(records, [uid]))


def read_visits(records: Records, uids: Sequence[str]) -> Iterator[SessionFacts]:
    """Read visits one after the other, so that only one at a time is held.

    Args:
        records: Opened.
        uids: Of visits on record, in the order in which they are wanted.
    """
    for uid in uids:
        yield records.read(partial(_visit, records=records, uid=uid))


def _visit(connection: Connection, *, records: Records, uid: str) -> SessionFacts:
    row = connection.execute(
        select(visits, runners.c.code)
        .join(runners, runners.c.id == visits.c.runner)
        .where(visits.c.uid == uid)
    ).one()
    told = [_drill(one) for one in _rows(connection, drills, row.id, drills.c.run)]
    found, loose = into_drills(told, _steps(connection, row.id))
    runner = records.runner(row.code)
    film = None if row.folder is None else film_of(SessionFolder(Path(row.folder)))
    details = row.told if isinstance(row.told, dict) else {}
    return SessionFacts(
        code=row.code,
        began=row.began.astimezone(),
        bay=row.bay,
        plan=row.plan,
        source=row.source,
        state=row.state,
        why=row.why,
        drills=found,
        loose=loose,
        events=tuple(
            event_of({"t_s": one.t_s, "kind": one.kind, "why": one.why, **(one.details or {})})
            for one in _rows(connection, events, row.id, events.c.row)
        ),
        answers=tuple(
            AnswerFacts(one.moment, one.score, one.place, tuple(one.kinds or ()))
            for one in _rows(connection, answers, row.id, answers.c.row)
        ),
        notices=texts(details, "notices"),
        frames={
            name: value
            for name in ("captured", "dropped", "tracked_share")
            if (value := number(table_of(details, "frames"), name)) is not None
        },
        steps_lost=row.steps_lost,
        film=film,
        film_allowed=row.source == DEMO_SOURCE or (runner is not None and runner.video),
    )


def _rows(connection: Connection, table: Any, visit: int, order: Any) -> Sequence[Row[Any]]:
    return connection.execute(select(table).where(table.c.visit == visit).order_by(order)).all()


def _drill(row: Row[Any]) -> Table:
    """Return what was told of a drill; what the table itself holds goes before it."""
    told = row.told if isinstance(row.told, dict) else {}
    own = ("number", "name", "kind", "began_s", "ended_s", "why", "belt_speed_mps",
           "incline_percent", "target_spm")  # fmt: skip
    return {**told, **{name: getattr(row, name) for name in own}}


def _steps(connection: Connection, visit: int) -> list[StepRecord]:
    """Return a visit's steps in order of time.

    The driver's own tuples are taken: rows that know their columns' names cost as much again, and
    a progress report reads fifty thousand. SQLite's 0 and 1 are made truth values by `record_of`.
    """
    wanted = select(*(steps.c[name] for name in NEEDED)).where(steps.c.visit == visit)
    rows = connection.execute(wanted.order_by(steps.c.row)).cursor
    found = [] if rows is None else [record_of(*row) for row in rows.fetchall()]
    found.sort(key=lambda record: record.step.t_contact_s)
    return found
