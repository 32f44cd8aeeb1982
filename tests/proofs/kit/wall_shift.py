"""Set the wall clock of this process and of all that it starts, and of nothing else.

The machine's own clock is not touched: a small library (`wall_shift.c`) is compiled and preloaded,
which adds to whatever the wall clock tells. Readers of the monotonic clock see no difference, as
when somebody sets a real clock.
"""

from __future__ import annotations

import os
import shutil
import struct
import subprocess
import sys
import tempfile
import time
from pathlib import Path

_FILE = "WALL_SHIFT_FILE"
_LIBRARY = "WALL_SHIFT_LIBRARY"


class NoCompiler(Exception):
    """There is nothing to compile the library with; the text says what to install."""


def run_shiftable() -> None:
    """Go on only in a process whose wall clock can be set: start this program anew in one.

    Raises:
        NoCompiler: There is no C compiler.
    """
    if _FILE in os.environ:
        return
    compiler = shutil.which("cc")
    if compiler is None:
        raise NoCompiler("cc not found; remedy: apt install gcc libc6-dev")
    folder = Path(tempfile.mkdtemp(prefix="station-wall-"))
    try:
        library, page = folder / "wall_shift.so", folder / "shift"
        source = Path(__file__).with_suffix(".c")
        words = [compiler, "-shared", "-fPIC", "-O2", "-o", str(library), str(source), "-ldl"]
        subprocess.run(words, check=True)
        page.write_bytes(struct.pack("d", 0.0))
        env = os.environ | {"LD_PRELOAD": str(library), _FILE: str(page), _LIBRARY: str(library)}
        sys.exit(subprocess.run([sys.executable, *sys.argv], env=env).returncode)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def shift_wall_clock(by_s: float) -> float:
    """Let the wall clock tell `by_s` more than the machine's; return by how much it moved."""
    before_s = time.time() - time.monotonic()
    with Path(os.environ[_FILE]).open("r+b") as page:
        page.write(struct.pack("d", by_s))
    return time.time() - time.monotonic() - before_s


def is_shiftable(process: int) -> bool:
    """Whether a process's wall clock is shifted as well."""
    return os.environ[_LIBRARY] in Path(f"/proc/{process}/maps").read_text()
