"""Writes `session.json`: what was run, on what, and what came of it."""

from __future__ import annotations

import json
import math
import os
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from station.errors import DeviceTrouble

RUNNING = "running"
"""What `ended` says while the session runs; it stays where the machine died."""


@dataclass(frozen=True, slots=True)
class FrameCounts:
    """What became of the frames."""

    captured: int = 0
    """By the source, dropped ones included."""
    tracked: int = 0
    """In which the pose model found a body."""
    in_view: int = 0
    """In which somebody was in the picture with both lower legs to be seen."""
    dropped: int = 0
    """Captured, but too old by the time that the pose model was free."""
    tracked_share: float | None = None
    """Of the measured frames between the first and the last one in view, the share in which a body
    was found; None: nobody was ever in view."""


class SessionFile:
    """Keeps one `session.json` whole: each write replaces the file in one go."""

    def __init__(self, path: Path) -> None:
        """Name the file."""
        self.path = path

    def write(self, content: Mapping[str, Any]) -> None:
        """Replace the file; a new one is for the owner's eyes alone.

        Args:
            content: Plain values; NaN and infinity become null.

        Raises:
            DeviceTrouble: The disk is full or gone; the file that was there is left as it was.
        """
        text = json.dumps(plain(content), ensure_ascii=False, indent=2, allow_nan=False)
        beside: str | None = None
        try:
            descriptor, beside = tempfile.mkstemp(prefix=".session-", dir=self.path.parent)
            with os.fdopen(descriptor, "w", encoding="utf-8") as file:
                file.write(text + "\n")
                file.flush()
                os.fsync(file.fileno())
            os.replace(beside, self.path)
            beside = None
        except OSError as fault:
            raise DeviceTrouble(
                f"{self.path}: cannot be written ({fault.strerror or fault}). "
                "Free some space or name another folder with --out"
            ) from fault
        finally:
            if beside is not None and os.path.exists(beside):
                os.unlink(beside)


def plain(value: Any) -> Any:
    """Return plain values for JSON: floats to six decimals, NaN and infinity as None."""
    if isinstance(value, Mapping):
        return {str(key): plain(one) for key, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(one) for one in value]
    if isinstance(value, float):
        return round(value, 6) if math.isfinite(value) else None
    return value
