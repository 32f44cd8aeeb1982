"""What is done whenever the records are opened: what waited goes in, what broke off is marked."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from sqlalchemy import Connection, select, update

from station.keep.store.erasing import erase_visits
from station.keep.store.facts import Erased
from station.keep.store.gate import Gate
from station.keep.store.journal import SUFFIX, Journal, JournalTaken, is_running
from station.keep.store.moments import utc_now
from station.keep.store.moving import VisitUnknown, move, tally
from station.keep.store.place import Place
from station.keep.store.tables import visits

BROKEN_OFF = "broken off"
OTHERS_QUIET = timedelta(hours=24)
"""Another computer's open visit that was not heard of for so long is over: it may be gone."""
OURS_QUIET = timedelta(minutes=1)
"""The same of a visit of this computer whose spool file could not be made: its disk was full."""
_BATCH = 2000


def absorb(gate: Gate, place: Place) -> list[str]:
    """Put in what earlier visits of this computer left in the spool.

    Returns:
        Sentences on what went in, and on what did not.

    Raises:
        SQLAlchemyError: The database takes nothing now; what waits stays.
    """
    told = []
    for path in sorted(place.spool.glob(f"*{SUFFIX}")):
        try:
            journal = Journal(path, make=False)
        except (JournalTaken, FileNotFoundError):
            continue  # it runs, or somebody else was quicker
        try:
            told += _absorb_one(gate, journal)
        finally:
            journal.close()
    return told


def _absorb_one(gate: Gate, journal: Journal) -> list[str]:
    entries = torn = 0
    while journal.waiting_bytes:
        batch, bad = journal.take(_BATCH)
        torn += bad
        try:
            if batch:
                gate.write(lambda connection, batch=batch: move(connection, batch, None))
        except VisitUnknown:
            return [f"{journal.path}: belongs to no visit that is known; left as it is"]
        journal.taken()
        entries += len(batch)
    if not entries:
        return []
    cut = f"; {torn} that were cut off could not be read" if torn else ""
    return [f"{entries} entries of an earlier visit went into the records from the spool{cut}"]


def mark_broken_off(connection: Connection, place: Place, station: str) -> int:
    """Mark the visits that ended without a word; return how many they were."""
    now = utc_now()
    count = 0
    rows = connection.execute(
        select(visits.c.id, visits.c.uid, visits.c.station, visits.c.seen).where(
            visits.c.state == "open"
        )
    ).all()
    for visit, uid, of, seen in rows:
        if of == station:
            running = is_running(place.spool, uid)
            over = running is False or (running is None and now - seen > OURS_QUIET)
        else:
            over = now - seen > OTHERS_QUIET
        if over:
            values = tally(connection, visit)
            connection.execute(
                update(visits)
                .where(visits.c.id == visit, visits.c.state == "open")
                .values(state=BROKEN_OFF, ended=seen, why=BROKEN_OFF, **values)
            )
            count += 1
    return count


def any_open(connection: Connection) -> bool:
    """Return whether there is a visit to look after."""
    return (
        connection.execute(select(visits.c.id).where(visits.c.state == "open")).first() is not None
    )


def too_old(connection: Connection, keep_days: int) -> list[int]:
    """Return the visits that are kept no longer."""
    before = utc_now() - timedelta(days=keep_days)
    return list(
        connection.execute(
            select(visits.c.id).where(visits.c.began < before, visits.c.state != "open")
        ).scalars()
    )


def apply_retention(gate: Gate, keep_days: int, numbers: list[int]) -> tuple[Erased, str]:
    """Erase visits whose time is over, with their folders; return what went, and a sentence."""
    erased = erase_visits(gate, numbers, runners_too_days=keep_days)
    files = f" and {len(erased.files)} files" if erased.files else ""
    return erased, (
        f"[records] keep_days = {keep_days}: {erased.visits} visits with {erased.steps} "
        f"steps{files} were older and are erased"
    )


def spool_files(place: Place) -> list[Path]:
    """Return the spool's files."""
    return sorted(place.spool.glob(f"*{SUFFIX}"))
