"""Where records are kept, and whether they can be."""

from __future__ import annotations

import os
import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path

OWN_FOLDER = "landing-station"


@dataclass(frozen=True, slots=True)
class Room:
    """A folder that is to be written into."""

    path: Path
    trouble: str | None
    """Why it cannot be written; None: it can, or can be made."""
    free_bytes: int | None
    """On its disk; None: not known."""
    there: bool
    """It exists already."""


def records_folder(told: str | None) -> Path:
    """Return the folder of the records.

    Args:
        told: As the bay profile names it; `~` is the user's own. None: the user's data folder, by
            the environment's XDG_DATA_HOME where that is set.
    """
    if told is not None:
        return Path(told).expanduser()
    home = os.environ.get("XDG_DATA_HOME") or "~/.local/share"
    return Path(home).expanduser() / OWN_FOLDER


def look_at(path: Path) -> Room:
    """Find out whether a folder can be written, or made, and how much room its disk has.

    Nothing is left behind: a missing folder is not made, its nearest parent is tried instead.
    """
    here = path.absolute()
    try:
        while not here.exists() and here != here.parent:
            here = here.parent
        if not here.is_dir():
            return Room(path, f"{here} is a file, not a folder", None, False)
        with tempfile.TemporaryFile(prefix=".station-", dir=here) as probe:
            probe.write(b"\0" * 4096)
            probe.flush()
        return Room(path, None, shutil.disk_usage(here).free, here == path.absolute())
    except OSError as fault:
        return Room(path, f"{here}: {fault.strerror or fault}", None, path.is_dir())
