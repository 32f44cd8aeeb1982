"""Reads a session's folder."""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from station.errors import BadInput
from station.keep.folder import DEMO_SOURCE, SessionFolder
from station.keep.report.facts import AnswerFacts, FilmFacts, SessionFacts
from station.keep.report.rows import KINDS, NEEDED, REQUIRED, into_drills, record_of
from station.keep.report.told import Table, event_of, number, table_of, tables, text, texts, whole
from station.keep.session_file import RUNNING
from station.keep.step_columns import StepColumn
from station.values import StepRecord

ALLOWED = "allowed is the folder of a session, with its steps.csv and session.json"


def read_folder(path: Path, allowed_to_film: Callable[[str], bool]) -> SessionFacts:
    """Read a session.

    Args:
        path: Its folder.
        allowed_to_film: Tells of a runner's code whether consent to films is on record now.

    Raises:
        BadInput: There is none, or its files cannot be read; says which, where and why.
    """
    folder = SessionFolder(path)
    if not path.is_dir():
        raise BadInput(f"{path}: no such folder; {ALLOWED}")
    told = _session(folder.session)
    rows, left_out = _steps(folder.steps)
    drills, loose = into_drills(tables(told, "drills"), rows)
    code, source = text(told, "runner"), text(told, "source") or ""
    ended = text(told, "ended")
    invented = source == DEMO_SOURCE
    return SessionFacts(
        code=code,
        began=_began(text(told, "began")),
        bay=text(table_of(told, "bay"), "name") or "",
        plan=text(table_of(told, "plan"), "name") or "",
        source=source,
        state="broken off" if ended == RUNNING else "ended",
        why=None if ended == RUNNING else ended,
        drills=drills,
        loose=loose,
        events=tuple(event_of(one) for one in tables(told, "events")),
        answers=_answers(table_of(told, "visit")),
        notices=texts(told, "notices"),
        frames={
            name: value
            for name in ("captured", "dropped", "tracked_share")
            if (value := number(table_of(told, "frames"), name)) is not None
        },
        film=film_of(folder, told),
        film_allowed=invented or (code is not None and allowed_to_film(code)),
        left_out=left_out,
    )


def film_of(folder: SessionFolder, told: Table | None = None) -> FilmFacts | None:
    """Return the session's film; None: there is none, or it is not known when it began."""
    try:
        if not folder.video.is_file():
            return None
        if told is None:
            told = _session(folder.session)
    except (OSError, BadInput):
        return None
    first_s = number(table_of(told, "film"), "first_picture_s")
    return None if first_s is None else FilmFacts(folder.video, first_s)


def _session(path: Path) -> Table:
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise BadInput(f"{path.parent}: holds no {path.name}; {ALLOWED}") from None
    except OSError as fault:
        raise BadInput(f"{path}: cannot be read ({fault.strerror or fault})") from None
    except ValueError as fault:
        raise BadInput(f"{path}: is no JSON text ({fault}); {ALLOWED}") from None
    if not isinstance(told, dict):
        raise BadInput(f"{path}: is no session's file; {ALLOWED}")
    return told


def _began(told: str | None) -> datetime | None:
    try:
        return None if told is None else datetime.fromisoformat(told)
    except ValueError:
        return None


def _answers(told: Table) -> tuple[AnswerFacts, ...]:
    found = []
    soreness = text(told, "soreness")
    if soreness is not None:
        found.append(AnswerFacts("since", None, None, (soreness,)))
    for moment in ("before", "after"):
        pain = table_of(told, f"pain_{moment}")
        score = whole(pain, "score")
        if score is not None:
            found.append(AnswerFacts(moment, score, text(pain, "where"), texts(pain, "kinds")))
    return tuple(found)


# --- steps.csv ----------------------------------------------------------------------------------


def _steps(path: Path) -> tuple[list[StepRecord], int]:
    """Return the steps in order of time, and how many rows at the end were cut off."""
    try:
        with path.open(encoding="utf-8", newline="") as file:
            lines = list(csv.reader(file))
    except FileNotFoundError:
        raise BadInput(f"{path.parent}: holds no {path.name}; {ALLOWED}") from None
    except OSError as fault:
        raise BadInput(f"{path}: cannot be read ({fault.strerror or fault})") from None
    except (UnicodeDecodeError, csv.Error) as fault:
        raise BadInput(f"{path}: is no table ({fault}); {ALLOWED}") from None
    head = lines[0] if lines else []
    missing = [name for name in REQUIRED if name not in head]
    if missing:
        raise BadInput(f"{path}: has no column {', '.join(missing)}; {ALLOWED}")
    at = [(i, KINDS[name]) for i, name in enumerate(head) if name in KINDS]
    rows, cut = [], 0
    for number_of_line, cells in enumerate(lines[1:], start=2):
        if len(cells) < len(head) and number_of_line == len(lines):
            cut = 1  # the machine stopped while it was being written
            continue
        rows.append(_row(path, number_of_line, cells, at, len(head)))
    rows.sort(key=lambda record: record.step.t_contact_s)
    return rows, cut


def _row(
    path: Path, line: int, cells: list[str], at: list[tuple[int, StepColumn]], width: int
) -> StepRecord:
    if len(cells) != width:
        raise BadInput(f"{path}, line {line}: {len(cells)} values instead of {width}")
    row: dict[str, Any] = {}
    for i, column in at:
        try:
            row[column.name] = _value(column, cells[i])
        except ValueError:
            kinds = {"integer": "a whole number", "number": "a number", "truth": "true or false"}
            raise BadInput(
                f"{path}, line {line}, {column.name} = {cells[i]!r}; allowed: "
                f"{kinds[column.kind]}, or empty"
            ) from None
    if row["t_contact_s"] is None:
        raise BadInput(f"{path}, line {line}, t_contact_s is empty; allowed: a number")
    values: list[Any] = [row.get(name) for name in NEEDED]
    return record_of(*values)


def _value(column: StepColumn, cell: str) -> Any:
    if cell == "":
        return None
    if column.kind == "number":
        value = float(cell)
        if not math.isfinite(value):
            raise ValueError(cell)
        return value
    if column.kind == "integer":
        return int(cell)
    if column.kind == "truth":
        if cell not in ("true", "false"):
            raise ValueError(cell)
        return cell == "true"
    return cell
