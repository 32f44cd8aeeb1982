"""The folder that one session writes into: made, checked, never shared with an earlier session."""

from __future__ import annotations

import contextlib
import json
import os
import tempfile
from dataclasses import dataclass
from pathlib import Path

from station.errors import BadInput

STEPS_FILE = "steps.csv"
SESSION_FILE = "session.json"
TRUTH_FILE = "truth.csv"
VIDEO_FILE = "screen.mp4"
SOUND_FILE = "sound.wav"
STILL_FILE = "still.png"
REPORT_FILES = ("report.html", "report.pdf", "runner.html")
"""Made of a session afterwards, beside its files; they go when these do."""
ALL_FILES = (STEPS_FILE, SESSION_FILE, TRUTH_FILE, VIDEO_FILE, SOUND_FILE, STILL_FILE)
DEMO_SOURCE = "demo"
"""What `session.json` says under `source` of a demo's session."""


@dataclass(frozen=True, slots=True)
class SessionFolder:
    """Where the files of one session lie."""

    path: Path
    made: bool = False
    """It was not there before."""

    def discard_if_empty(self) -> None:
        """Take the folder away again where it was made for nothing."""
        if self.made:
            with contextlib.suppress(OSError):
                self.path.rmdir()

    @property
    def steps(self) -> Path:
        """The steps' table."""
        return self.path / STEPS_FILE

    @property
    def session(self) -> Path:
        """The session's summary."""
        return self.path / SESSION_FILE

    @property
    def truth(self) -> Path:
        """The simulated runner's exact truth."""
        return self.path / TRUTH_FILE

    @property
    def video(self) -> Path:
        """The recorded screen."""
        return self.path / VIDEO_FILE

    @property
    def sound(self) -> Path:
        """What sounded beside the recorded screen."""
        return self.path / SOUND_FILE

    @property
    def still(self) -> Path:
        """One picture of the recorded screen."""
        return self.path / STILL_FILE


def open_folder(path: Path, replace_demo: bool = False) -> SessionFolder:
    """Make a session's folder and see that it can be written, before anything starts.

    Args:
        path: The folder; it and its parents are made where they are missing.
        replace_demo: Put away the files of an earlier demo in this folder; those of any other
            session are never touched.

    Returns:
        The folder, with no session's file in it.

    Raises:
        BadInput: The path is a file or lies in one, cannot be made or written, or holds the
            results of an earlier session.
    """
    try:
        folder = SessionFolder(path, made=not path.exists())
        path.mkdir(parents=True, exist_ok=True)
        descriptor, probe = tempfile.mkstemp(prefix=".station-", dir=path)
        os.close(descriptor)
        os.unlink(probe)
    except (FileExistsError, NotADirectoryError):
        raise BadInput(f"--out {path}: this is a file, or lies in one; name a folder") from None
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or str(fault)
        raise BadInput(f"--out {path}: cannot be written ({reason}); name another folder") from None
    held = [name for name in ALL_FILES if (path / name).exists()]
    if not held:
        return folder
    if not (replace_demo and _is_demo(folder)):
        raise BadInput(
            f"--out {path}: holds the results of an earlier session ({', '.join(held)}); "
            "name another folder"
        )
    for name in (*held, *REPORT_FILES):
        with contextlib.suppress(FileNotFoundError):
            (path / name).unlink()
    return folder


def _is_demo(folder: SessionFolder) -> bool:
    """Return whether the session in the folder was a demo's, by its own word."""
    try:
        told = json.loads(folder.session.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return isinstance(told, dict) and told.get("source") == DEMO_SOURCE
