"""Erases a session's folder: only files that the station writes, only of the runner meant."""

from __future__ import annotations

import json
from pathlib import Path

from station.keep.folder import ALL_FILES, REPORT_FILES, SESSION_FILE

_MADE_BY_US = (*ALL_FILES, "crash.txt", *REPORT_FILES)
_PASSING = (".session-*", ".station-*", ".screen-joining*")


def is_session_of(folder: Path, code: str) -> bool:
    """Return whether a folder holds a session of this runner, by its own word."""
    try:
        told = json.loads((folder / SESSION_FILE).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return isinstance(told, dict) and told.get("runner") == code


def sessions_below(folder: Path, code: str) -> list[Path]:
    """Return the folders of this runner's sessions in a folder: itself, and one and two below."""
    candidates = [folder, *folder.glob("*/"), *folder.glob("*/*/")]
    return sorted({one.resolve() for one in candidates if is_session_of(one, code)})


def erase_folder(folder: Path) -> tuple[list[str], list[str]]:
    """Erase a session's files, and the folder where nothing else is in it.

    Args:
        folder: Seen to be the session's.

    Returns:
        Paths that are gone, and sentences on what is left.
    """
    gone: list[str] = []
    left: list[str] = []
    # The session's own file goes last: as long as it stands, the folder is found again.
    names = [name for name in _MADE_BY_US if name != SESSION_FILE]
    files = [folder / name for name in names]
    files += [path for pattern in _PASSING for path in folder.glob(pattern)]
    for path in [*files, folder / SESSION_FILE]:
        try:
            path.unlink()
            gone.append(str(path))
        except FileNotFoundError:
            continue
        except OSError as fault:
            left.append(f"{path}: cannot be erased ({fault.strerror or fault})")
    try:
        others = sorted(path.name for path in folder.iterdir())
        if not others:
            folder.rmdir()
            gone.append(str(folder))
        elif not left:
            left.append(f"{folder}: holds files that are not the station's ({', '.join(others)})")
    except OSError as fault:
        left.append(f"{folder}: {fault.strerror or fault}")
    return gone, left
