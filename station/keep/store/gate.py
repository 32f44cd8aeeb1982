"""The way into the database for one thread: opens it when asked, and anew after it was lost."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable
from typing import TypeVar

from sqlalchemy import Connection, Engine, update
from sqlalchemy.exc import SQLAlchemyError

from station.keep.store.engine import open_engine, writing
from station.keep.store.moments import utc_now
from station.keep.store.place import Place
from station.keep.store.schema import migrate
from station.keep.store.tables import visits

T = TypeVar("T")


class Gate:
    """Holds the engine. Used by one thread at a time."""

    def __init__(self, place: Place, patience_s: float = 0.3) -> None:
        """Name the database; it is opened when it is first needed.

        Args:
            place: The records.
            patience_s: How long a statement may wait for somebody else's lock.
        """
        self.place = place
        self._patience_s = patience_s
        self._engine: Engine | None = None
        self._file: tuple[int, int] | None = None

    def write(self, work: Callable[[Connection], None]) -> None:
        """Do some work in one transaction.

        Raises:
            SQLAlchemyError: The database did not take it.
            OSError: Its file is gone and cannot be made.
        """
        engine = self._open()
        with engine.connect() as fresh, writing(fresh) as connection, connection.begin():
            work(connection)

    def read(self, ask: Callable[[Connection], T]) -> T:
        """Ask something; raises as `write` does."""
        with self._open().connect() as connection:
            return ask(connection)

    def beat(self, uid: str) -> None:
        """Note that a visit goes on."""

        def work(connection: Connection) -> None:
            connection.execute(update(visits).where(visits.c.uid == uid).values(seen=utc_now()))

        self.write(work)

    def close(self) -> None:
        """Let the connections go; safe to repeat, and the next use opens anew."""
        engine, self._engine = self._engine, None
        if engine is not None:
            with contextlib.suppress(SQLAlchemyError):
                engine.dispose()

    def _open(self) -> Engine:
        """Return the engine; a SQLite file that was taken away or replaced is opened anew."""
        if self._engine is not None and self._file != self._identity():
            self.close()
        if self._engine is None:
            if self.place.url is None:
                self.place.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            engine = open_engine(self.place, self._patience_s)
            try:
                migrate(engine)
            except BaseException:
                engine.dispose()
                raise
            self._engine, self._file = engine, self._identity()
        return self._engine

    def _identity(self) -> tuple[int, int] | None:
        if self.place.url is not None:
            return None
        try:
            told = os.stat(self.place.database)
        except OSError:
            return (0, 0)
        return told.st_dev, told.st_ino
