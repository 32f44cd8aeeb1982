"""Writes a bay profile so that a person's comments, order and spelling stay as they are.

A new profile begins as the shipped one, in which every key is explained. A key that stands there as
a comment (`# px_per_m = 360.0   # ...`) takes its comment's place when it is set.
"""

from __future__ import annotations

import contextlib
import os
import re
import tempfile
from collections.abc import Callable, Iterable, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.items import Table as TomlTable

from station.errors import BadInput
from station.settings.bay import read_bay
from station.settings.resources import resource
from station.settings.toml_file import read_text
from station.values import Bay

TEMPLATE = "config/bay.toml"
_HEAD = re.compile(r"^\[([A-Za-z_]+)\]\s*(#.*)?$")


def _ms(seconds: float | None) -> float | None:
    return None if seconds is None else round(1000.0 * seconds, 3)


def _number(value: float) -> float | int:
    return int(value) if float(value).is_integer() else value


_VALUES: Mapping[str, Callable[[Bay], Any]] = {
    "name": lambda bay: bay.name,
    "camera.device": lambda bay: bay.device,
    "camera.width": lambda bay: bay.width,
    "camera.height": lambda bay: bay.height,
    "camera.fps": lambda bay: _number(bay.fps),
    "camera.exposure_ms": lambda bay: _ms(bay.exposure_s),
    "camera.picture_late_ms": lambda bay: _number(round(1000.0 * bay.picture_late_s, 1)),
    "camera.roll_deg": lambda bay: bay.view.roll_deg,
    "view.runner_faces": lambda bay: bay.view.faces or "auto",
    "view.px_per_m": lambda bay: bay.view.px_per_m,
    "view.belt_line": lambda bay: None if bay.view.belt_line is None
    else [list(point) for point in bay.view.belt_line],
    "view.width": lambda bay: bay.view.width,
    "view.height": lambda bay: bay.view.height,
    "sound.volume": lambda bay: bay.volume,
    "screen.diagonal_m": lambda bay: bay.screen_diagonal_m,
    "screen.viewing_distance_m": lambda bay: bay.viewing_distance_m,
    "screen.language": lambda bay: bay.language,
    "records.folder": lambda bay: bay.records_folder,
}  # fmt: skip
"""How each key that the set-up writes is read from the bay; None: the key is left out."""


def bay_text(before: str, bay: Bay, keys: Iterable[str]) -> str:
    """Return a profile's text with some keys set anew; all else stays letter by letter.

    Args:
        before: A valid profile.
        bay: Has the values.
        keys: Which of them to write, such as `camera.roll_deg`.

    Raises:
        KeyError: A key that the set-up does not write.
    """
    values = {key: _VALUES[key](bay) for key in keys}
    text = before
    for key, value in values.items():
        if value is not None:
            text = _woken(text, *_parted(key))
    document = tomlkit.parse(text)
    for key, value in values.items():
        _set(document, *_parted(key), value)
    return tomlkit.dumps(document)


def _parted(key: str) -> tuple[str, str]:
    table, _, name = key.rpartition(".")
    return table, name


def _woken(text: str, table: str, name: str) -> str:
    """Turn the commented example of a key into the key itself, where the key is not there yet."""
    asleep = re.compile(rf"^#\s*({name}\s*=.*)$")
    awake = re.compile(rf"^\s*{name}\s*=")
    lines, here = text.splitlines(keepends=True), ""
    found: int | None = None
    for number, line in enumerate(lines):
        head = _HEAD.match(line.strip())
        if head:
            here = head[1]
        if here != table:
            continue
        if awake.match(line):
            return text
        if found is None and asleep.match(line.rstrip("\r\n")):
            found = number
    if found is None:
        return text
    told = asleep.match(lines[found].rstrip("\r\n"))
    assert told is not None
    ending = lines[found][len(lines[found].rstrip("\r\n")) :]
    gone = " " * told.start(1)  # so that its own comment stays in its column
    line = re.sub(r"\s+#", lambda space: gone + space[0], told[1], count=1)
    woken = "".join([*lines[:found], line + ending, *lines[found + 1 :]])
    with contextlib.suppress(tomlkit.exceptions.TOMLKitError):
        tomlkit.parse(woken)
        return woken
    return text  # it was a sentence, and no example


def _set(document: tomlkit.TOMLDocument, table: str, name: str, value: Any) -> None:
    if table and table not in document:
        if value is None:
            return
        document[table] = tomlkit.table()
    holder: Any = document[table] if table else document
    if value is None:
        if name in holder:
            del holder[name]
        return
    if name in holder and holder[name] == value:
        return  # 60 stays 60, and is not made 60.0
    if name in holder and isinstance(holder, (TomlTable, tomlkit.TOMLDocument)):
        old: Any = holder.item(name)
        new = tomlkit.item(value)
        if old.trivia.comment:  # it stays in its column, where there is room
            column = len(old.as_string()) + len(old.trivia.comment_ws)
            new.trivia.comment_ws = " " * max(2, column - len(new.as_string()))
            new.trivia.comment = old.trivia.comment
        holder[name] = new
        return
    holder[name] = value


def write_bay(path: Path, bay: Bay, keys: Iterable[str], now: datetime) -> Path | None:
    """Write a profile in one go; the one before is kept beside it.

    Args:
        path: Where; its folder is made if it is not there.
        bay: Has the values.
        keys: Which of them to write.
        now: Names the copy of the profile before.

    Returns:
        Where the profile before is now; None: there was none, or nothing has changed.

    Raises:
        BadInput: The profile before holds mistakes, the file cannot be written, or what would be
            written is no valid profile; whatever happens, the profile before is still there.
    """
    there = path.exists()
    if there:
        read_bay(path)  # its mistakes are told before anything is written
    before = read_text(path) if there else read_text(resource(TEMPLATE))
    text = bay_text(before, bay, keys)
    if there and text == before:
        return None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        made = _written_beside(path, text)
        try:
            read_bay(made)
            kept = _keep(path, now) if there else None
            os.replace(made, path)
        except BaseException:
            made.unlink(missing_ok=True)
            raise
    except OSError as fault:
        raise BadInput(
            f"{path}: cannot be written ({fault.strerror or fault}); give this user the right to, "
            "or name another file by --bay"
        ) from fault
    return kept


def _written_beside(path: Path, text: str) -> Path:
    """Write the text to the disk beside where it is to be."""
    number, name = tempfile.mkstemp(prefix=f".{path.stem}-", suffix=".toml", dir=path.parent)
    with os.fdopen(number, "w", encoding="utf-8", newline="") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    mode = path.stat().st_mode & 0o777 if path.exists() else 0o644
    os.chmod(name, mode)
    return Path(name)


def _keep(path: Path, now: datetime) -> Path:
    """Give the profile before a second name, which nothing else has; return it."""
    stem = f"{path.stem}-before-{now.strftime('%Y%m%d-%H%M%S')}"
    number = 1
    while True:
        kept = path.with_name(f"{stem}{'' if number == 1 else f'-{number}'}{path.suffix}")
        try:
            with open(kept, "xb") as file:
                file.write(path.read_bytes())
                file.flush()
                os.fsync(file.fileno())
            return kept
        except FileExistsError:
            number += 1
