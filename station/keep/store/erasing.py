"""Erases visits and runners: their folders first, then what the database holds of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import timedelta
from pathlib import Path

from sqlalchemy import Connection, Engine, delete, func, select, text

from station.keep.store.engine import is_sqlite, open_engine
from station.keep.store.facts import Erased
from station.keep.store.folders import erase_folder, is_session_of
from station.keep.store.gate import Gate
from station.keep.store.journal import Journal, JournalTaken
from station.keep.store.moments import utc_now
from station.keep.store.moving import insert_once
from station.keep.store.place import Place
from station.keep.store.tables import consents, forgotten, metadata, runners, steps, visits

_AT_ONCE = 20


def erase_visits(gate: Gate, numbers: Sequence[int], runners_too_days: int | None = None) -> Erased:
    """Erase visits, some in each transaction.

    Args:
        gate: Of the database.
        numbers: Of the visits.
        runners_too_days: Erase the codes as well that have no visit left, and were entered longer
            ago; None: codes stay.
    """
    files: list[str] = []
    left: list[str] = []
    count = 0
    for i in range(0, len(numbers), _AT_ONCE):
        some = list(numbers[i : i + _AT_ONCE])
        gone, kept = _erase_folders(gate, some)
        files += gone
        left += kept
        found: list[int] = []
        gate.write(lambda c, some=some, found=found: found.append(_delete_visits(c, some)))
        count += found[0]
    if runners_too_days is not None:
        before = utc_now() - timedelta(days=runners_too_days)
        gate.write(lambda c: _delete_idle_runners(c, before))
    return Erased(len(numbers), count, tuple(files), tuple(left))


def _erase_folders(gate: Gate, numbers: list[int]) -> tuple[list[str], list[str]]:
    rows: list[tuple[str, str]] = []

    def ask(connection: Connection) -> None:
        asked = (
            select(visits.c.folder, runners.c.code)
            .join(runners, runners.c.id == visits.c.runner)
            .where(visits.c.id.in_(numbers), visits.c.folder.is_not(None))
        )
        rows.extend((folder, code) for folder, code in connection.execute(asked))

    gate.write(ask)
    gone: list[str] = []
    left: list[str] = []
    for folder, code in rows:
        files, kept = erase_session_folder(Path(folder), code)
        gone += files
        left += kept
    return gone, left


def erase_session_folder(folder: Path, code: str) -> tuple[list[str], list[str]]:
    """Erase a session's folder; one that is not this runner's session is left alone."""
    if is_session_of(folder, code):
        return erase_folder(folder)
    if not folder.exists():
        return [], [f"{folder}: is not there any more; if it was moved, erase it by hand"]
    return [], []


def _delete_visits(connection: Connection, numbers: list[int]) -> int:
    chosen = visits.c.id.in_(numbers)
    count = connection.execute(
        select(func.count()).select_from(steps).where(steps.c.visit.in_(numbers))
    ).scalar_one()
    uids = connection.execute(select(visits.c.uid).where(chosen)).scalars().all()
    insert_once(connection, forgotten, [{"uid": uid, "since": utc_now()} for uid in uids])
    connection.execute(delete(visits).where(chosen))  # all else goes with it
    return int(count)


def _delete_idle_runners(connection: Connection, before: object) -> None:
    busy = select(visits.c.runner)
    agreed = select(consents.c.runner).where(consents.c.said >= before)
    connection.execute(
        delete(runners).where(
            runners.c.made < before, runners.c.id.not_in(busy), runners.c.id.not_in(agreed)
        )
    )


def erase_runner_row(gate: Gate, code: str) -> None:
    """Erase what is left of a runner once the visits are gone."""

    def work(connection: Connection) -> None:
        connection.execute(delete(runners).where(runners.c.code == code))

    gate.write(work)


def erase_spool(paths: Iterable[Path], code: str) -> tuple[list[str], list[str]]:
    """Erase the spool files that hold a visit of this runner."""
    gone: list[str] = []
    left: list[str] = []
    mark = f'"runner":"{code}"'.encode()
    for path in paths:
        try:
            if mark not in path.read_bytes():
                continue
            Journal(path, make=False).remove()
            gone.append(str(path))
        except FileNotFoundError:
            continue
        except JournalTaken:
            left.append(f"{path}: its visit runs now")
    return gone, left


def wipe(place: Place, patience_s: float) -> list[str]:
    """Rewrite the database without what was deleted, so that no old page holds it.

    Returns:
        Sentences on what could not be done, or is not in our hands.

    Raises:
        SQLAlchemyError: Somebody else uses the database.
    """
    engine = open_engine(place, patience_s)
    try:
        if is_sqlite(engine):
            return _wipe_sqlite(engine, place)
        with engine.connect() as fresh:
            connection = fresh.execution_options(isolation_level="AUTOCOMMIT")
            for name in metadata.tables:
                connection.execute(text(f'VACUUM (FULL) "{name}"'))
        return [
            "the server's write-ahead log and its backups are its administrator's: they hold what "
            "was erased until they are rotated"
        ]
    finally:
        engine.dispose()


def _wipe_sqlite(engine: Engine, place: Place) -> list[str]:
    with engine.connect() as connection:
        database = connection.connection.driver_connection  # VACUUM runs outside of transactions
        if database is None:
            raise ValueError("no connection to the database")
        database.execute("VACUUM")
        busy, *_ = database.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    if not busy:
        return []
    return [
        f"{place.database}-wal: another program reads the records; 'forget' again once it has "
        "ended empties this file"
    ]
