"""The station's own log: one JSON object a line, in files that only their owner may read.

What goes wrong with devices and machine is written here, so that it can be found out later what
happened in a bay that nobody looked at. Nothing of a runner is written, not even the code.
"""

from __future__ import annotations

import json
import logging
import logging.handlers
import os
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from station.keep.records_place import OWNER_FILE, OWNER_FOLDER

LOG_FOLDER = "log"
LOG_FILE = "station.log"
MEGABYTES = 5.0
FILES = 5
"""The one that is written and those before it."""
QUIET_S = 60.0
"""The same thing is written once within so long; how often it came meanwhile is written later."""
_LEVELS = {"info": logging.INFO, "warning": logging.WARNING, "error": logging.ERROR}
_FORBIDDEN = frozenset({"runner", "code"})


class JsonLines(logging.Formatter):
    """One object a line: time (UTC), level, what, and the fields of the record."""

    def format(self, record: logging.LogRecord) -> str:
        """Return the line."""
        when = time.strftime("%Y-%m-%dT%H:%M:%S", time.gmtime(record.created))
        line: dict[str, Any] = {
            "t": f"{when}.{int(record.msecs):03d}Z",
            "level": record.levelname.lower(),
            "what": record.getMessage(),
        }
        fields: dict[str, Any] = getattr(record, "fields", {})
        line |= {key: value for key, value in fields.items() if key not in line}
        return json.dumps(line, ensure_ascii=False, default=str)


class RateLimit(logging.Filter):
    """Lets a thing through once within some seconds, with how often it was held back before."""

    def __init__(self, quiet_s: float = QUIET_S, clock: Callable[[], float] = time.monotonic):
        """Begin with nothing said.

        Args:
            quiet_s: How long the same thing is not said again.
            clock: Seconds.
        """
        super().__init__()
        self._quiet_s, self._clock = quiet_s, clock
        self._said_s: dict[tuple[str, str], float] = {}
        self._held: dict[tuple[str, str], int] = {}

    def filter(self, record: logging.LogRecord) -> bool:
        """Say whether a record is written now."""
        what, now_s = _thing(record), self._clock()
        if now_s - self._said_s.get(what, float("-inf")) < self._quiet_s:
            self._held[what] = self._held.get(what, 0) + 1
            return False
        self._said_s[what] = now_s
        held = self._held.pop(what, 0)
        if held:
            record.fields = {**getattr(record, "fields", {}), "held_back": held}
        return True


def _thing(record: logging.LogRecord) -> tuple[str, str]:
    """Return what a line is about: its key, and what that is of, where several can be at once."""
    fields: dict[str, Any] = getattr(record, "fields", {})
    return record.getMessage(), str(fields.get("of", ""))


class _OwnedFile(logging.handlers.RotatingFileHandler):
    """Each new file is its owner's alone; a disk that takes nothing costs a line, not a session."""

    def _open(self) -> Any:
        def opener(path: str, flags: int) -> int:
            return os.open(path, flags | os.O_CLOEXEC, OWNER_FILE)

        return open(self.baseFilename, self.mode, encoding="utf-8", opener=opener)

    def handleError(self, record: logging.LogRecord) -> None:  # noqa: N802 - logging's own name
        """Let the line go: there is nowhere to tell it."""


class StationLog:
    """Writes lines for the staff. May be used by any thread."""

    def __init__(
        self,
        folder: Path,
        megabytes: float = MEGABYTES,
        quiet_s: float = QUIET_S,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        """Open the log; a folder that cannot be written gives a log that writes nothing.

        Args:
            folder: Where the files lie; made for the owner alone.
            megabytes: Of all files together; the oldest goes first.
            quiet_s: How long the same thing is not written again.
            clock: Seconds, for that.
        """
        self.path = folder / LOG_FILE
        self.trouble: str | None = None
        """Why nothing is written; None: it is."""
        self._logger = logging.Logger("station", logging.INFO)  # apart from everybody else's
        self._logger.addFilter(RateLimit(quiet_s, clock))
        try:
            folder.mkdir(mode=OWNER_FOLDER, parents=True, exist_ok=True)
            handler = _OwnedFile(
                self.path, maxBytes=round(megabytes * 1e6 / FILES), backupCount=FILES - 1
            )
        except OSError as fault:
            self.trouble = f"{folder}: the log cannot be written ({fault.strerror or fault})"
            self._logger.addHandler(logging.NullHandler())
            return
        handler.setFormatter(JsonLines())
        self._logger.addHandler(handler)

    def __call__(self, level: str, what: str, **fields: object) -> None:
        """Write one line.

        Args:
            level: `info`, `warning` or `error`.
            what: A short key, always the same for the same thing.
            fields: Plain values; nothing of a runner. `of` says of which one, where several things
                have the same key: each is written.
        """
        told = {key: value for key, value in fields.items() if key not in _FORBIDDEN}
        self._logger.log(_LEVELS[level], what, extra={"fields": told})

    def close(self) -> None:
        """Close the files; safe to repeat."""
        for handler in list(self._logger.handlers):
            self._logger.removeHandler(handler)
            handler.close()
