"""Hands records out: every table as CSV and Parquet, with a data dictionary."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, select

from station.errors import BadInput
from station.keep.records_place import OWNER_FILE, OWNER_FOLDER
from station.keep.store.dictionary import SHEETS, Sheet
from station.keep.store.listing import Wanted, visit_numbers
from station.keep.store.records import Records
from station.keep.store.sheet_files import SheetFiles, write_dictionary
from station.keep.store.tables import runners, visits

DICTIONARY_FILE = "dictionary.csv"
_AT_ONCE = 10  # visits: some ten thousand steps


@dataclass(frozen=True, slots=True)
class Exported:
    """What an export wrote."""

    folder: Path
    rows: dict[str, int]
    """By table."""
    films: tuple[str, ...]
    """Folders of the visits that still are there, with films where there are any."""


def export(records: Records, wanted: Wanted, folder: Path) -> Exported:
    """Write the wanted visits and their runners into a folder.

    Args:
        records: Opened.
        wanted: Whose; its order and `most` do not count.
        folder: New or empty; for the owner alone.

    Raises:
        BadInput: The folder holds something, cannot be written, or the runner is not known.
    """
    if wanted.runner is not None and records.runner(wanted.runner) is None:
        raise BadInput(f"{wanted.runner}: no runner of this code is on record")
    _prepare(folder)
    rows = records.read(lambda connection: _told(connection, wanted, folder))
    lines = records.visits(wanted)
    films = tuple(v.folder for v in lines if v.folder and Path(v.folder).is_dir())
    return Exported(folder, rows, films)


def _told(connection: Connection, wanted: Wanted, folder: Path) -> dict[str, int]:
    """Write all files; the folder's faults are not the database's."""
    umask = os.umask(0o777 & ~OWNER_FILE)
    try:
        rows = _write(connection, wanted, folder)
        write_dictionary(folder / DICTIONARY_FILE, SHEETS)
    except OSError as fault:
        raise BadInput(
            f"--out {folder}: cannot be written ({fault.strerror or fault}); what is there is not "
            "complete"
        ) from fault
    finally:
        os.umask(umask)
    return rows


def _prepare(folder: Path) -> None:
    try:
        folder.mkdir(mode=OWNER_FOLDER, parents=True, exist_ok=True)
        held = sorted(path.name for path in folder.iterdir())
    except FileExistsError:
        raise BadInput(f"--out {folder}: this is a file; name a folder") from None
    except OSError as fault:
        raise BadInput(f"--out {folder}: cannot be written ({fault.strerror or fault})") from None
    if held:
        raise BadInput(f"--out {folder}: holds {held[0]} already; name a new or empty folder")


def _write(connection: Connection, wanted: Wanted, folder: Path) -> dict[str, int]:
    found = visit_numbers(connection, wanted)
    numbers = [number for number, *_ in found]
    asked = select(runners.c.id).order_by(runners.c.code)
    if wanted.runner is not None:
        asked = asked.where(runners.c.code == wanted.runner)
    elif wanted != Wanted():  # of all visits, all runners: also those without a visit yet
        asked = asked.where(runners.c.code.in_({code for *_, code in found}))
    people = list(connection.execute(asked).scalars())
    rows = {}
    for sheet in SHEETS:
        with SheetFiles(folder, sheet) as files:
            chosen = numbers if sheet.by is visits else people
            for i in range(0, len(chosen), _AT_ONCE):
                files.write(_rows(connection, sheet, chosen[i : i + _AT_ONCE]))
            rows[sheet.name] = files.rows
    return rows


def _rows(connection: Connection, sheet: Sheet, numbers: list[int]) -> list[tuple[Any, ...]]:
    asked = sheet.ask().where(sheet.by.c.id.in_(numbers))
    result = connection.execute(asked.order_by(*sheet.order))
    at = [list(result.keys()).index(field.name) for field in sheet.fields]
    return [tuple(row[i] for i in at) for row in result]
