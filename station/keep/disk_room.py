"""How much room a disk has."""

from __future__ import annotations

import shutil
from pathlib import Path


def free_bytes(folder: Path) -> int | None:
    """Return the bytes that are free for this user where a folder lies; None: not known."""
    try:
        return shutil.disk_usage(folder).free
    except OSError:
        return None
