"""Finds the recordings in a folder: clips by their name, traces by their first line."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from station.errors import BadInput

CLIPS = (".avi", ".m4v", ".mkv", ".mov", ".mp4", ".webm")
TRACE = ".csv"
OWN_PLAN = ".plan.toml"
_FIRST_LINE = 4096  # bytes: a trace's header has 100 columns
NEEDED = ("t_s", "left_ankle_x", "right_ankle_x")
"""Columns by which a table is known for a trace; `station replay` says what else is missing."""


@dataclass(frozen=True, slots=True)
class Recording:
    """One clip or trace to be analysed."""

    path: Path
    name: str
    """Where it lies within the folder, with `/` between: it names its results, too."""
    clip: bool
    """A film; else a trace of landmarks."""
    plan: Path | None = None
    """A plan of its own, beside it: `NAME.plan.toml` beside `NAME.csv`."""


@dataclass(frozen=True, slots=True)
class Found:
    """What lies in a folder and the folders in it, by name."""

    recordings: tuple[Recording, ...]
    other_tables: tuple[str, ...]
    """Tables that are no traces: their first line does not name `NEEDED`."""


def find_recordings(folder: Path, leave_out: Path) -> Found:
    """Return the recordings in a folder and the folders in it.

    Args:
        folder: Where to look. What begins with a dot is passed over, and so is every other file: a
            table is a trace where its first line names a time and both ankles, else it is told.
        leave_out: The folder of the results, which may lie within.

    Raises:
        BadInput: There is no such folder, or no recording in it.
    """
    allowed = f"allowed is a folder with clips ({', '.join(CLIPS)}) or traces (trace.csv)"
    if not folder.is_dir():
        raise BadInput(f"there is no folder {folder}; {allowed}")
    leave_out = leave_out.resolve()
    found: list[Recording] = []
    tables: list[str] = []
    for place, inner, files in os.walk(folder):
        here = Path(place)
        inner[:] = [
            name
            for name in inner
            if not name.startswith(".") and (here / name).resolve() != leave_out
        ]
        for file in files:
            path = here / file
            if file.startswith(".") or not path.is_file():
                continue
            name = path.relative_to(folder).as_posix()
            clip = path.suffix.lower() in CLIPS
            if clip or (path.suffix.lower() == TRACE and _is_trace(path)):
                plan = path.with_name(path.stem + OWN_PLAN)
                found.append(Recording(path, name, clip, plan if plan.is_file() else None))
            elif path.suffix.lower() == TRACE:
                tables.append(name)
    if not found:
        raise BadInput(f"{folder} holds no recording; {allowed}")
    return Found(tuple(sorted(found, key=lambda one: one.name)), tuple(sorted(tables)))


def _is_trace(path: Path) -> bool:
    """Whether a table's first line is a trace's; one that cannot be read is, so that it is told."""
    try:
        with path.open("rb") as file:
            head = file.readline(_FIRST_LINE)
    except OSError:
        return True
    columns = [name.strip(b' "\r\n\xef\xbb\xbf') for name in head.split(b",")]
    return all(name.encode() in columns for name in NEEDED)
