"""The store on both databases: visits, the spool, two stations, retention, migrations."""

from __future__ import annotations

import os
import sqlite3
import stat
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import MetaData, Table, func, select, text

from station.coach.verdict import Baseline, LegBaseline
from station.errors import BadInput, DeviceTrouble
from station.keep.store import (
    Answer,
    DatabaseAway,
    Place,
    Records,
    VisitStart,
    Wanted,
    begin_visit,
    schema,
)
from station.keep.store.engine import open_engine, writing
from station.keep.store.gate import Gate
from station.keep.store.journal import Journal, path_of, to_line
from station.keep.store.tables import answers, drills, events, metadata, steps
from station.keep.store.visit import begin_operation
from station.keep.store.writer import VisitWriter
from station.values import Belt, StepRecord

Start = Callable[..., VisitStart]
MakeStep = Callable[..., StepRecord]


def count(place: Place, table: Table) -> int:
    with Records(place) as records:
        return records.read(
            lambda c: c.execute(select(func.count()).select_from(table)).scalar_one()
        )


def test_a_visit_is_kept_whole(place: Place, start: Start, step: MakeStep) -> None:
    visit = begin_visit(place, start())
    for number in range(1, 31):
        visit.write(step(number, "ahead" if number % 3 == 0 else "within"))
    visit.drill(0, {"name": "Easy", "kind": "run", "began_s": 0.0})
    visit.drill(0, {"name": "Easy", "ended_s": 9.0, "felt": {"good_of_ten": 8, "gap": 0.1}})
    visit.event({"t_s": 3.0, "kind": "coach", "why": "slower", "belt": "9 km/h"})
    visit.answer(Answer("before", 2, "left calf", ("dull",)))
    visit.baseline(Baseline(Belt(2.5, 1.0), 160.0, LegBaseline(20, 7.0, 0.8, 0.25)))
    assert visit.end("plan done", {"cues": {"sounded": 1}}) is None
    with Records(place) as records:
        (line,) = records.visits(Wanted())
        runner = records.runner("R07")
        drill = records.read(lambda c: c.execute(select(drills)).one())
        kept = records.read(lambda c: c.execute(select(steps).order_by(steps.c.row)).all())
    assert (line.steps, line.within, line.ahead) == (30, 20, 10)
    assert (line.state, line.why, line.steps_lost) == ("ended", "plan done", 0)
    assert line.running_s == pytest.approx(29 * 0.35)
    assert [row.step for row in kept] == list(range(1, 31))
    assert (kept[0].shank_deg, kept[0].near, kept[0].toe_dive) == (7.12, True, False)
    assert (drill.ended_s, drill.felt, drill.feel_gap) == (9.0, 0.8, 0.1)
    assert runner is not None
    assert runner.baselines == (
        Baseline(Belt(2.5, 1.0), 160.0, LegBaseline(20, 7.0, 0.8, 0.25), None),
    )
    assert runner.baselines_in(start().bay) == runner.baselines
    assert runner.baselines_in("another bay") == ()
    assert count(place, events) == count(place, answers) == 1
    assert list(place.spool.iterdir()) == []


def test_only_the_owner_may_look(place: Place, start: Start) -> None:
    begin_visit(place, start()).end("done")
    for path in (place.folder, *place.folder.rglob("*")):
        assert not stat.S_IMODE(path.stat().st_mode) & 0o077, path


def test_a_visit_without_an_end_is_marked_at_the_next_opening(
    place: Place, start: Start, step: MakeStep
) -> None:
    visit = begin_visit(place, start())
    visit.write(step(1))
    visit._writer.spool_once(stopping=True)
    with Records(place) as records:  # as another station beside this one
        assert [one.state for one in records.visits(Wanted())] in ([], ["open"])
    visit.leave()
    with Records(place) as records:
        (line,) = records.visits(Wanted(broken_off=True))
        assert any("broken off" in notice for notice in records.notices)
    assert (line.state, line.steps) == ("broken off", 1)


def test_what_waits_in_the_spool_goes_in_once_however_often(
    place: Place, start: Start, step: MakeStep
) -> None:
    first = start()
    visit = begin_visit(place, first)
    for number in range(1, 11):
        visit.write(step(number))
    visit.end("done")
    # The same again, as after a kill between the database's commit and the spool's: all, and torn.
    place.spool.mkdir(exist_ok=True)
    lines = [begin_operation(first, place.station())]
    lines += [
        {"do": "step", "visit": first.uid, "row": n, "step": n + 1, "t_contact_s": 0.35 * (n + 1)}
        for n in range(12)
    ]
    path = path_of(place.spool, first.uid)
    path.write_bytes(b"".join(to_line(one) for one in lines) + b'{"do":"step","vis')
    with Records(place) as records:
        assert any("13 entries of an earlier visit" in notice for notice in records.notices)
    assert count(place, steps) == 12  # ten were in already
    assert not path.exists()


def test_two_stations_at_once_lose_nothing(place: Place, start: Start, step: MakeStep) -> None:
    other = replace(place, folder=place.folder if place.url is None else place.folder / "two")
    visits = [begin_visit(one, start(runner)) for one, runner in ((place, "R1"), (other, "R2"))]
    for number in range(1, 301):
        for visit in visits:
            visit.write(step(number))
    assert [visit.end("done") for visit in visits] == [None, None]
    with Records(place) as records:
        lines = records.visits(Wanted(sort="runner"))
    assert [(one.runner, one.steps, one.state) for one in lines] == [
        ("R1", 300, "ended"), ("R2", 300, "ended"),
    ]  # fmt: skip


def locked(place: Place) -> Callable[[], None]:
    """Lock what a visit writes; return what lets it go."""
    engine = open_engine(place, 5.0)
    connection = writing(engine.connect())
    transaction = connection.begin()
    if place.url is not None:
        connection.execute(text("LOCK TABLE visits, steps IN ACCESS EXCLUSIVE MODE"))

    def free() -> None:
        transaction.rollback()
        connection.close()
        engine.dispose()

    return free


def test_a_locked_database_stops_nothing_and_gets_all_later(
    place: Place, start: Start, step: MakeStep
) -> None:
    first = start()
    Records(place).close()
    place.prepare()
    journal = Journal(path_of(place.spool, first.uid), make=True)
    now_s = 0.0
    writer = VisitWriter(Gate(place, 0.05), journal, begin_operation(first, "here"), lambda: now_s)
    free = locked(place)
    for number in range(1, 4):
        writer.put(lambda n=number: {"do": "step", "visit": first.uid, "row": n, "step": n})  # type: ignore[misc]
    writer.spool_once(stopping=True)
    for _ in range(2):
        writer.move_once(stopping=False)
        now_s += 10.0
    assert "the database takes nothing" in (writer.notice or "")
    assert "spool file" in (writer.notice or "")
    assert journal.waiting_bytes > 0
    free()
    assert writer.move_once(stopping=False)
    assert writer.notice is None
    assert journal.waiting_bytes == 0
    assert writer.moved == 4
    assert writer.close(1.0) == 0
    assert count(place, steps) == 3


def test_a_full_queue_is_counted(place: Place, start: Start) -> None:
    first = start()
    place.prepare()
    writer = VisitWriter(Gate(place), None, begin_operation(first, "here"), queue_most=5)
    for number in range(7):
        writer.put(lambda n=number: {"do": "step", "visit": first.uid, "row": n})  # type: ignore[misc]
    assert writer.dropped == writer.lost == 2
    assert "2 entries were lost" in (writer.notice or "")


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no full device to write to here")
def test_a_full_disk_keeps_steps_in_memory_until_there_is_room(place: Place, start: Start) -> None:
    first = start()
    place.prepare()
    journal = Journal(path_of(place.spool, first.uid), make=True)
    real, full = os.dup(journal._file), os.open("/dev/full", os.O_WRONLY)
    os.dup2(full, journal._file)
    os.close(full)
    writer = VisitWriter(Gate(place), journal, begin_operation(first, "here"))
    assert "the disk takes nothing" in (writer.notice or "")
    assert writer.backlog.in_memory == 1
    os.dup2(real, journal._file)
    os.close(real)
    writer.spool_once(stopping=True)
    assert writer.notice is None
    assert writer.backlog.in_memory == 0
    assert journal.waiting_bytes > 0
    writer.close(5.0)


def test_what_the_database_never_takes_is_counted_and_the_rest_goes_in(
    place: Place, start: Start
) -> None:
    first = start()
    place.prepare()
    writer = VisitWriter(Gate(place), None, begin_operation(first, "here"))
    for number, bad in enumerate((False, True, False)):
        told = {"do": "event", "visit": first.uid, "row": number, "t_s": None if bad else 1.0,
                "kind": "coach", "why": None, "details": None}  # fmt: skip
        writer.put(lambda told=told: told)  # type: ignore[misc]
    writer.spool_once(stopping=True)
    writer.move_once(stopping=True)
    assert writer.refused == 1
    assert count(place, events) == 2
    writer.close(1.0)


def test_old_visits_are_erased_at_opening_and_it_is_told(place: Place, start: Start) -> None:
    day = datetime.now(timezone.utc)
    begin_visit(place, start("OLD", began=day - timedelta(days=40))).end("done")
    begin_visit(place, start("NEW", began=day - timedelta(days=20))).end("done")
    with Records(replace(place, keep_days=30)) as records:
        assert [one.runner for one in records.visits(Wanted())] == ["NEW"]
        assert any("keep_days = 30: 1 visits" in notice for notice in records.notices)


@pytest.mark.parametrize(
    ("given", "found"),
    [({"runner": "B"}, ["B"]), ({"bay": "north"}, ["B", "A"]), ({"plan": "HOP"}, ["C"]),
     ({"sort": "runner"}, ["A", "B", "C"]), ({"sort": "steps"}, ["C", "B", "A"]),
     ({"sort": "steps", "reverse": True}, ["A", "B", "C"]), ({"most": 1}, ["C"]),
     ({"since": timedelta(hours=-1.5)}, ["C", "B"]), ({"until": timedelta(hours=-1.5)}, ["A"])],
)  # fmt: skip
def test_visits_are_chosen_and_sorted(
    place: Place, start: Start, step: MakeStep, given: dict[str, object], found: list[str]
) -> None:
    now = datetime.now(timezone.utc)
    for hours, (runner, bay, plan) in enumerate(
        (("A", "North 1", "Easy"), ("B", "North 2", "Easy"), ("C", "South", "Hops"))
    ):
        visit = begin_visit(
            place, start(runner, bay=bay, plan=plan, began=now + timedelta(hours=hours - 2))
        )
        for number in range(hours):
            visit.write(step(number))
        visit.end("done")
    wanted = {k: now + v if isinstance(v, timedelta) else v for k, v in given.items()}
    with Records(place) as records:
        assert [one.runner for one in records.visits(Wanted(**wanted))] == found  # type: ignore[arg-type]


# --- the schema ---------------------------------------------------------------------------------


def test_the_migrations_lead_to_the_tables(place: Place) -> None:
    with Records(place) as records:
        found = records.read(lambda c: compare_metadata(MigrationContext.configure(c), metadata))
    assert found == []
    folder = Path(schema.__file__).parent / "migrations"
    assert ScriptDirectory(str(folder)).get_current_head() == schema.NEWEST


def test_a_migration_from_the_first_schema_keeps_every_row(place: Place) -> None:
    place.prepare()
    engine = open_engine(place, 5.0)
    schema.migrate(engine, "0001")
    first = MetaData()
    with engine.connect() as connection:
        first.reflect(connection)
    tables = [table for table in first.sorted_tables if table.name != "alembic_version"]
    assert len(tables) == 7
    with engine.connect() as fresh, writing(fresh) as connection, connection.begin():
        for table in tables:
            for number in range(1, 6):
                connection.execute(table.insert().values(**filled(table, number)))
    before = {table.name: everything(engine, table) for table in tables}
    assert schema.migrate(engine)
    after = {table.name: everything(engine, table) for table in tables}  # the first one's columns
    engine.dispose()
    assert after == before
    assert all(len(rows) == 5 for rows in after.values())


def filled(table: Table, number: int) -> dict[str, object]:
    """Return a row with a value in every column."""
    row: dict[str, object] = {}
    for column in table.columns:
        kind = column.type.python_type if column.type.__class__.__name__ != "JSON" else dict
        row[column.name] = {
            int: number, float: number + 0.25, str: f"{column.name[:8]} {number}", bool: True,
            dict: {"a": number}, datetime: datetime(2026, 11, number, tzinfo=timezone.utc),
        }[kind]  # fmt: skip
        if column.name in ("visit", "runner"):
            row[column.name] = number
    return row


def everything(engine, table: Table) -> list[tuple[object, ...]]:  # type: ignore[no-untyped-def]
    key = list(table.primary_key)
    with engine.connect() as connection:
        return [tuple(row) for row in connection.execute(select(table).order_by(*key))]


def test_records_of_a_newer_station_are_refused(place: Place) -> None:
    with Records(place):
        pass
    engine = open_engine(place, 5.0)
    with engine.connect() as fresh, writing(fresh) as connection, connection.begin():
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    engine.dispose()
    with pytest.raises(BadInput, match="of a newer station"):
        Records(place)


# --- trouble at the door ------------------------------------------------------------------------


def test_a_server_that_is_not_there_is_a_notice_and_the_visit_waits(
    tmp_path: Path, start: Start, step: MakeStep
) -> None:
    pytest.importorskip("psycopg")
    away = Place(tmp_path / "records", "postgresql://station@/none?host=/nowhere")
    with pytest.raises(DatabaseAway, match="cannot be used now"):
        Records(away)
    visit = begin_visit(away, start())
    assert visit.runner is None
    assert any("waits in the spool" in notice for notice in visit.notices)
    visit.write(step(1))
    assert "waits in the spool file" in (visit.end("done") or "")
    # The server comes back: here, another database takes its place.
    with Records(replace(away, url=None)) as records:
        (line,) = records.visits(Wanted())
    assert (line.state, line.steps) == ("ended", 1)


def test_a_damaged_file_is_told(tmp_path: Path) -> None:
    place = Place(tmp_path)
    place.database.write_bytes(b"no database, " * 1000)
    with pytest.raises(DeviceTrouble, match="damaged"):
        Records(place)


def test_a_database_file_taken_away_in_mid_visit_is_made_anew(
    tmp_path: Path, start: Start, step: MakeStep
) -> None:
    place = Place(tmp_path / "records")
    first = start()
    place.prepare()
    writer = VisitWriter(Gate(place), None, begin_operation(first, "here"))
    writer.move_once(stopping=True)
    for path in place.folder.glob("records.sqlite*"):
        path.unlink()
    writer.put(lambda: {"do": "step", "visit": first.uid, "row": 0, "step": 1})
    writer.spool_once(stopping=True)
    writer.move_once(stopping=True)
    assert writer.close(1.0) == 0
    with sqlite3.connect(place.database) as database:
        assert database.execute("SELECT count(*) FROM steps").fetchone() == (1,)
    database.close()
