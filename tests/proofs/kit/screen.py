"""A virtual screen whose pixels can be read straight from memory, without asking its server."""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

WIDTH, HEIGHT = 1280, 720
_UP_MAX_S = 10.0


class ScreenMissing(Exception):
    """No virtual screen can be had; the text says what to install."""


@dataclass(frozen=True)
class VirtualScreen:
    """A running virtual screen."""

    env: dict[str, str]
    """What a program needs in its environment to open its window there."""
    memory: Path
    """The file in which its pixels lie."""

    def pixels(self) -> NDArray[np.uint8]:
        """Return (HEIGHT, WIDTH, 4) BGRX, a view that changes as the screen does."""
        return map_pixels(self.memory)


def map_pixels(memory: Path) -> NDArray[np.uint8]:
    """Map the pixels of the screen's memory file (an X window dump: header, colours, pixels)."""
    header = np.fromfile(memory, dtype=">u4", count=25)
    header_bytes, colours, line_bytes = int(header[0]), int(header[19]), int(header[12])
    start = header_bytes + 12 * colours
    whole = np.memmap(memory, dtype=np.uint8, mode="r", offset=start, shape=(HEIGHT, line_bytes))
    return whole.reshape(HEIGHT, line_bytes // 4, 4)[:, :WIDTH]


@contextlib.contextmanager
def virtual_screen() -> Iterator[VirtualScreen]:
    """Run a virtual screen; end it and remove its files, always.

    Raises:
        ScreenMissing: Xvfb is not installed or does not come up.
    """
    if shutil.which("Xvfb") is None:
        raise ScreenMissing("Xvfb not found; remedy: apt install xvfb")
    folder = Path(tempfile.mkdtemp(prefix="station-screen-"))
    ready, told = os.pipe()
    process = subprocess.Popen(
        [
            "Xvfb", "-displayfd", str(told), "-screen", "0", f"{WIDTH}x{HEIGHT}x24",
            "-fbdir", str(folder), "-nolisten", "tcp", "-noreset",
        ],
        pass_fds=(told,), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    os.close(told)
    try:
        with os.fdopen(ready) as answer:
            number = answer.readline().strip()  # ends when the server dies
        memory = folder / "Xvfb_screen0"
        end_s = time.monotonic() + _UP_MAX_S
        while number and not memory.exists() and time.monotonic() < end_s:
            time.sleep(0.05)
        if not number or not memory.exists():
            raise ScreenMissing("Xvfb does not come up")
        yield VirtualScreen({"DISPLAY": f":{number}", "SDL_VIDEODRIVER": "x11"}, memory)
    finally:
        process.terminate()
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(5)
        process.kill()
        process.wait(5)
        shutil.rmtree(folder, ignore_errors=True)
