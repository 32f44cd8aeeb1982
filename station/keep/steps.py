"""Writes `steps.csv`: one row per step, on the disk as soon as it is known."""

from __future__ import annotations

import contextlib
import csv
import io
import os
from collections.abc import Iterable
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING

from station.errors import DeviceTrouble
from station.keep.step_columns import COLUMNS

if TYPE_CHECKING:
    from station.values import StepRecord

STEP_COLUMNS: tuple[str, ...] = tuple(column.name for column in COLUMNS)
"""The columns of `steps.csv`, in order; relied on from outside: new ones go to the end."""

ROWS_WAITING = 50_000
"""Rows kept in memory while the disk takes none: over four hours of running."""


class StepsWriter:
    """Appends one row per step and hands each to the system at once. Used by one thread.

    A disk that is full or gone does not end the session: rows wait in memory and are tried again
    with the next one and at the end.
    """

    def __init__(self, path: Path) -> None:
        """Create the file and write its header.

        Raises:
            DeviceTrouble: The disk does not take it.
        """
        self.path = path
        self.rows = 0
        """Rows given so far, without the header."""
        self.lost = 0
        """Rows dropped because too many were waiting."""
        self._waiting: list[bytes] = []
        self._fault: OSError | None = None
        self._size = 0
        try:
            flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND | os.O_CLOEXEC
            self._file: int | None = os.open(path, flags, 0o666)  # less what the umask takes
            self._append(_line(STEP_COLUMNS))
        except OSError as fault:
            raise _trouble(path, fault, 0) from fault

    @property
    def notice(self) -> str | None:
        """What the user must know while rows wait; None: none does."""
        if self._fault is None:
            return None
        return (
            f"{self.path.name} cannot be written ({self._fault.strerror or self._fault}): "
            "its rows wait in memory; free some space"
        )

    def write(self, record: StepRecord) -> None:
        """Append one row; once the disk has taken it, it outlives this process."""
        self._waiting.append(_line([column.text(column.get(record)) for column in COLUMNS]))
        self.rows += 1
        if len(self._waiting) > ROWS_WAITING:
            del self._waiting[0]
            self.lost += 1
        with contextlib.suppress(OSError):  # kept as the fault, and told by `notice`
            self._write_waiting()

    def close(self) -> None:
        """Write what still waits and close the file; safe to repeat.

        Raises:
            DeviceTrouble: The disk is still full or gone, or rows were lost to it.
        """
        if self._file is None:
            return
        try:
            self._write_waiting()
        except OSError as fault:
            raise _trouble(self.path, fault, self.lost + len(self._waiting)) from fault
        finally:
            file, self._file = self._file, None
            with contextlib.suppress(OSError):
                os.close(file)
        if self.lost:
            raise DeviceTrouble(f"{self.path}: the disk was full for long; {self.lost} rows lost")

    def _write_waiting(self) -> None:
        if not self._waiting:
            return
        try:
            self._append(b"".join(self._waiting))
        except OSError as fault:
            self._fault = fault
            raise
        self._waiting.clear()
        self._fault = None

    def _append(self, data: bytes) -> None:
        """Write all or nothing: a row that the full disk cut in two is taken back."""
        if self._file is None:
            raise ValueError(f"{self.path} is closed")
        written = 0
        try:
            while written < len(data):
                written += os.write(self._file, data[written:])
        except OSError:
            with contextlib.suppress(OSError):
                os.ftruncate(self._file, self._size)
            raise
        self._size += written

    def __enter__(self) -> StepsWriter:
        """Return itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        value: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close the file."""
        self.close()


def _line(cells: Iterable[str]) -> bytes:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerow(cells)
    return text.getvalue().encode("utf-8")


def _trouble(path: Path, fault: OSError, missing: int) -> DeviceTrouble:
    rows = f"; {missing} rows are not in it" if missing else ""
    return DeviceTrouble(
        f"{path}: cannot be written ({fault.strerror or fault}){rows}; rows written before are "
        "kept. Free some space or name another folder with --out"
    )
