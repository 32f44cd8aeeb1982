"""Runners: their caps, consents and baselines."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Row, func, insert, select, update

from station.keep.store.facts import Runner
from station.keep.store.moments import utc_now
from station.keep.store.moving import runner_number
from station.keep.store.tables import consents, drills, runners, visits

VIDEO = "video"


class Unset:
    """Stands for 'leave as it is'; None means 'take it away'."""


UNSET = Unset()


def read_runner(connection: Connection, code: str) -> Runner | None:
    """Return what is kept of a runner; None: the code is not known."""
    row = connection.execute(select(runners).where(runners.c.code == code)).first()
    return None if row is None else _runner(connection, row)


def read_runners(connection: Connection) -> list[Runner]:
    """Return every runner, by code."""
    rows = connection.execute(select(runners).order_by(runners.c.code)).all()
    return [_runner(connection, row) for row in rows]


def change_runner(
    connection: Connection,
    code: str,
    belt_cap_mps: float | Unset | None = UNSET,
    hops_cap: int | Unset | None = UNSET,
    video: bool | None = None,
) -> None:
    """Enter a runner, or change what is kept.

    Args:
        connection: In a writing transaction.
        code: A new one is entered.
        belt_cap_mps: The belt is never asked to run faster for this runner.
        hops_cap: Most hops of a visit.
        video: Note that the runner allows films, or does not any more; None: nothing was said.
    """
    number = runner_number(connection, code)
    values: dict[str, Any] = {}
    if not isinstance(belt_cap_mps, Unset):
        values["belt_cap_mps"] = belt_cap_mps
    if not isinstance(hops_cap, Unset):
        values["hops_cap"] = hops_cap
    if values:
        connection.execute(update(runners).where(runners.c.id == number).values(**values))
    if video is not None:
        connection.execute(
            insert(consents).values(runner=number, kind=VIDEO, given=video, said=utc_now())
        )


def last_dose(connection: Connection, code: str) -> tuple[float, float, int] | None:
    """Return what a runner's newest visit with a drill came to; see `Records.last_dose`."""
    newest = connection.execute(
        select(visits.c.id)
        .join(runners, runners.c.id == visits.c.runner)
        .join(drills, drills.c.visit == visits.c.id)
        .where(runners.c.code == code, drills.c.kind != "rest")
        .order_by(visits.c.began.desc(), visits.c.id.desc())
    ).first()
    if newest is None:
        return None
    rows = connection.execute(
        select(drills).where(drills.c.visit == newest.id, drills.c.kind != "rest")
    ).all()
    seconds = sum(
        row.ended_s - row.began_s
        for row in rows
        if row.ended_s is not None and row.began_s is not None
    )
    fastest = max((row.belt_speed_mps or 0.0 for row in rows), default=0.0)
    hops = sum(row.landings or 0 for row in rows if row.kind == "hop")
    return float(seconds), float(fastest), int(hops)


def _runner(connection: Connection, row: Row[Any]) -> Runner:
    said = connection.execute(
        select(consents.c.given)
        .where(consents.c.runner == row.id, consents.c.kind == VIDEO)
        .order_by(consents.c.id.desc())
    ).first()
    count = connection.execute(
        select(func.count()).select_from(visits).where(visits.c.runner == row.id)
    ).scalar_one()
    from station.coach.baseline import same_belt  # seldom needed; imports numpy
    from station.coach.verdict import Baseline
    from station.keep.store.baselines import newest_baselines

    by_bay = newest_baselines(connection, row.id)
    newest: list[Baseline] = []
    for _, baseline in by_bay:
        if not any(same_belt(baseline.belt, one.belt) for one in newest):
            newest.append(baseline)
    return Runner(
        row.code, row.belt_cap_mps, row.hops_cap, bool(said and said.given), tuple(newest), count,
        by_bay,
    )  # fmt: skip
