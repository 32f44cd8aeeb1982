"""Brings a database to the newest schema, one station at a time."""

from __future__ import annotations

from importlib.resources import as_file, files

from sqlalchemy import Connection, Engine, inspect, text

from station.errors import BadInput
from station.keep.store.engine import is_sqlite, writing

NEWEST = "0002"
"""The newest step in `migrations/versions`."""
_LOCK = 7_406_112_733
"""Our own number among PostgreSQL's advisory locks."""


def version_of(connection: Connection) -> str | None:
    """Return the schema's version; None: nothing is there yet."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    return None if found is None else str(found)


def migrate(engine: Engine, to: str = NEWEST) -> bool:
    """Bring the schema to a version; all of it, or nothing.

    Args:
        engine: Of the database.
        to: The version; an older one only in tests.

    Returns:
        Whether there was something to do.

    Raises:
        BadInput: The database is of a newer station.
        SQLAlchemyError: It cannot be read or written now.
    """
    with engine.connect() as connection:
        found = version_of(connection)
    if found == to:
        return False
    if found is not None and found > NEWEST:
        raise BadInput(
            f"the records are of a newer station (schema {found}; this one knows up to {NEWEST}); "
            "bring this station up to date"
        )
    with engine.connect() as fresh, writing(fresh) as connection, connection.begin():
        if not is_sqlite(engine):
            connection.execute(text("SELECT pg_advisory_xact_lock(:it)"), {"it": _LOCK})
        if version_of(connection) == to:  # another station was quicker
            return False
        _upgrade(connection, to)
    return True


def _upgrade(connection: Connection, to: str) -> None:
    from alembic import command  # takes a while to import, and is seldom needed
    from alembic.config import Config

    with as_file(files("station.keep.store") / "migrations") as folder:
        config = Config()
        config.set_main_option("script_location", str(folder).replace("%", "%%"))
        config.attributes["connection"] = connection
        command.upgrade(config, to)
