"""A visit's spool file: what the database has not taken yet, on this computer's own disk.

One JSON line for each operation. The file is locked as long as its visit runs, and the system lets
the lock go however the process ends: so another station, or the next start, can tell a visit that
runs from one that was broken off.
"""

from __future__ import annotations

import contextlib
import fcntl
import json
import os
from pathlib import Path

from station.keep.store.facts import Operation
from station.keep.store.place import OWNER_FILE

SUFFIX = ".jsonl"
MOST_BYTES = 200_000_000
"""About 200,000 steps, twenty hours of running without a database."""
_READ_BYTES = 1 << 20


class JournalTaken(Exception):
    """Its visit runs, in this process or another."""


class Journal:
    """Appends lines and gives them back in order. Its user sees to it that calls don't overlap."""

    def __init__(self, path: Path, make: bool) -> None:
        """Open and lock.

        Args:
            path: The file.
            make: Make it where it is missing.

        Raises:
            JournalTaken: Somebody else has it locked.
            OSError: It cannot be opened or made.
        """
        self.path = path
        flags = os.O_RDWR | os.O_APPEND | os.O_CLOEXEC | (os.O_CREAT if make else 0)
        self._file = os.open(path, flags, OWNER_FILE)
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            os.close(self._file)
            raise JournalTaken(str(path)) from None
        self._size = os.fstat(self._file).st_size
        self._taken = 0  # bytes from the start that are not wanted any more
        self._read = 0  # bytes handed out by the last `take`

    @property
    def waiting_bytes(self) -> int:
        """How much of it is still wanted."""
        return self._size - self._taken

    def append(self, lines: bytes) -> None:
        """Add whole lines, on the disk when this returns.

        Raises:
            OSError: The disk is full or gone, or the file has reached its bound; nothing of the
                lines is in it then.
        """
        if self._size + len(lines) > MOST_BYTES:
            raise OSError(27, "the spool file has reached its bound")
        written = 0
        try:
            while written < len(lines):
                written += os.write(self._file, lines[written:])
            os.fdatasync(self._file)
        except OSError:
            with contextlib.suppress(OSError):
                os.ftruncate(self._file, self._size)
            raise
        self._size += written

    def take(self, most: int) -> tuple[list[Operation], int]:
        """Read the next operations; they stay until `taken` is called.

        Args:
            most: How many at most.

        Returns:
            The operations, and how many lines could not be read: torn by a power cut. None of
            both: nothing waits.
        """
        data = os.pread(self._file, min(_READ_BYTES, self.waiting_bytes), self._taken)
        found: list[Operation] = []
        used = bad = 0
        while len(found) < most:
            end = data.find(b"\n", used)
            if end < 0:
                break
            operation = _parse(data[used:end])
            used = end + 1
            if operation is None:
                bad += 1
            else:
                found.append(operation)
        if not used and data:  # a last line without its end: it was being written
            used, bad = self.waiting_bytes, bad + 1
        self._read = used
        return found, bad

    def taken(self) -> None:
        """Let go of what the last `take` gave; an empty file is cut to nothing."""
        self._taken += self._read
        self._read = 0
        if self._taken and self._taken == self._size:
            os.ftruncate(self._file, 0)
            self._size = self._taken = 0

    def close(self) -> None:
        """Unlock; the file stays where something still waits in it. Safe to repeat."""
        if self._file < 0:
            return
        if not self.waiting_bytes:
            with contextlib.suppress(FileNotFoundError):
                self.path.unlink()
        os.close(self._file)
        self._file = -1

    def remove(self) -> None:
        """Erase it, whatever waits."""
        if self._file >= 0:
            os.ftruncate(self._file, 0)
        with contextlib.suppress(FileNotFoundError):
            self.path.unlink()
        if self._file >= 0:
            os.close(self._file)
            self._file = -1


def to_line(operation: Operation) -> bytes:
    """Write an operation as one line."""
    return json.dumps(operation, ensure_ascii=False, separators=(",", ":")).encode("utf-8") + b"\n"


def path_of(spool: Path, uid: str) -> Path:
    """Return where a visit's file is."""
    return spool / f"{uid}{SUFFIX}"


def is_running(spool: Path, uid: str) -> bool | None:
    """Return whether a visit runs on this computer; None: it has no file here, so that is open."""
    try:
        journal = Journal(path_of(spool, uid), make=False)
    except FileNotFoundError:
        return None
    except JournalTaken:
        return True
    os.close(journal._file)  # as it is: it may hold what still has to go in
    return False


def _parse(line: bytes) -> Operation | None:
    try:
        told = json.loads(line)
    except ValueError:
        return None
    return told if isinstance(told, dict) and "do" in told and "visit" in told else None
