"""Opens the database: SQLite in the records' folder, or PostgreSQL at a url."""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError, SQLAlchemyError
from sqlalchemy.pool import QueuePool

from station.errors import BadInput
from station.keep.store.place import Place, open_owned

WRITES = "station_writes"
"""Execution option of a connection that will write: SQLite then locks at once, and waits for the
lock as long as it may; a transaction that reads first and writes later would fail at once."""
CONNECT_S = 3
URL_HELP = "postgresql://USER@HOST:PORT/DATABASE"


def read_url(text: str) -> URL:
    """Return a server's address; raise BadInput where it is none."""
    try:
        url = make_url(text)
    except ArgumentError:
        raise BadInput(f"[records] url: no address of a database; allowed: {URL_HELP}") from None
    if url.get_backend_name() != "postgresql":
        raise BadInput(
            f"[records] url begins with {url.drivername!r}; allowed: {URL_HELP}, or no url at all: "
            "then the records are in the folder"
        )
    return url.set(drivername="postgresql+psycopg")


def told_place(place: Place) -> str:
    """Return where the database is, without a password."""
    return str(place.database) if place.url is None else repr(read_url(place.url))


def open_engine(place: Place, patience_s: float) -> Engine:
    """Return an engine; it connects when it is first used.

    Args:
        place: Prepared.
        patience_s: How long one statement may wait for somebody else's lock.

    Raises:
        BadInput: The url is none, or its driver is not installed.
        OSError: The SQLite file cannot be made.
    """
    if place.url is None:
        return _sqlite(place.database, patience_s)
    return _postgresql(read_url(place.url), patience_s)


def _sqlite(path: Path, patience_s: float) -> Engine:
    with open_owned(path, os.O_RDWR | os.O_CREAT):  # its -wal and -shm take its rights
        pass
    engine = create_engine(
        URL.create("sqlite", database=str(path)),
        connect_args={"timeout": patience_s, "isolation_level": None},
        poolclass=QueuePool,
        pool_size=2,
    )

    @event.listens_for(engine, "connect")
    def _prepare(connection: Any, _record: Any) -> None:
        cursor = connection.cursor()
        for pragma in (
            "foreign_keys = ON",
            "secure_delete = ON",  # what is deleted is overwritten
            "journal_mode = WAL",
            "synchronous = FULL",  # a commit is on the disk, not only with the system
        ):
            cursor.execute(f"PRAGMA {pragma}")
        cursor.close()

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get(WRITES, False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _postgresql(url: URL, patience_s: float) -> Engine:
    wait_ms = max(100, round(1000.0 * patience_s))
    try:
        return create_engine(
            url,
            connect_args={
                "connect_timeout": CONNECT_S,
                "options": f"-c lock_timeout={wait_ms} -c timezone=UTC",
                "keepalives_idle": 5,
                "keepalives_interval": 2,
                "keepalives_count": 3,
                "tcp_user_timeout": 5000,
                "application_name": "landing-station",
            },
            poolclass=QueuePool,
            pool_size=2,
            pool_pre_ping=True,
        )
    except (ImportError, NoSuchModuleError):
        raise BadInput(
            "[records] url: the PostgreSQL driver is not installed; install the station with its "
            "extra: pip install 'landing-station[postgres]'"
        ) from None


def writing(connection: Connection) -> Connection:
    """Let a fresh connection's transactions be writing ones."""
    return connection.execution_options(**{WRITES: True})


def is_sqlite(engine: Engine) -> bool:
    """Return whether it is SQLite."""
    return engine.dialect.name == "sqlite"


def reason(fault: BaseException) -> str:
    """Return in one line why the database did not do it; no password, no SQL."""
    inner = fault.orig if isinstance(fault, DBAPIError) and fault.orig is not None else fault
    text = str(inner).strip().splitlines()
    return text[0].strip() if text else type(inner).__name__


def is_damaged(fault: BaseException) -> bool:
    """Return whether SQLite says that its file is no database, or a broken one."""
    inner = fault.orig if isinstance(fault, DBAPIError) else fault
    return isinstance(inner, sqlite3.DatabaseError) and any(
        words in str(inner) for words in ("not a database", "malformed")
    )


__all__ = [
    "SQLAlchemyError", "is_damaged", "is_sqlite", "open_engine", "read_url", "reason", "told_place",
    "writing",
]  # fmt: skip
