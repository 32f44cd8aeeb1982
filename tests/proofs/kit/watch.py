"""Watch one spot of a virtual screen: when does it change, by the monotonic clock?

    python tests/proofs/kit/watch.py MEMORY OUT X Y SIZE B G R     (started by `watching`)

Looks at the screen's memory every millisecond and notes how many pixels of the square have exactly
the colour, whenever their number changes.
"""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

if __package__:
    from kit.screen import map_pixels
else:
    from screen import map_pixels

LOOK_EVERY_S = 0.001


@dataclass(frozen=True)
class Watched:
    """What was seen of the spot."""

    changes: NDArray[np.float64]
    """(n, 3): monotonic seconds, seconds since the look before, pixels of the colour."""

    def lit(self, pixels: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return when the spot came to have at least so many pixels of the colour.

        Returns:
            (k,) monotonic seconds of the look that saw it, (k,) how long before that was the look
            that had not: the error of each.
        """
        on = self.changes[:, 2] >= pixels
        first = np.flatnonzero(on & ~np.concatenate([[True], on[:-1]]))
        return self.changes[first, 0], self.changes[first, 1]


@contextlib.contextmanager
def watching(
    memory: Path, out: Path, x: int, y: int, size: int, colour: tuple[int, int, int]
) -> Iterator[None]:
    """Watch while the block runs; read `out` afterwards with `read_watched`."""
    words = [str(memory), str(out), *map(str, (x, y, size, *colour))]
    process = subprocess.Popen([sys.executable, __file__, *words])
    try:
        yield
    finally:
        process.terminate()
        process.wait(10)


def read_watched(out: Path) -> Watched:
    """Read what `watching` wrote."""
    return Watched(np.fromfile(out, dtype="<f8").reshape(-1, 3))


def _watch(memory: Path, out: Path, numbers: list[int]) -> None:
    ended = threading.Event()
    signal.signal(signal.SIGTERM, lambda *_: ended.set())
    x, y, size, *colour = numbers
    # Four bytes of a pixel are compared as one number; the fourth is not used by the screen.
    spot = map_pixels(memory).view("<u4")[y : y + size, x : x + size, 0]
    wanted = colour[0] | colour[1] << 8 | colour[2] << 16
    changes: list[tuple[float, float, int]] = []
    count, before_s = -1, time.monotonic()
    while not ended.is_set():
        now_s = time.monotonic()
        new = int(((spot & 0xFFFFFF) == wanted).sum())
        if new != count:
            changes.append((now_s, now_s - before_s, new))
            count = new
        before_s = now_s
        time.sleep(LOOK_EVERY_S)
    np.array(changes, dtype="<f8").tofile(out)
    os._exit(0)


if __name__ == "__main__":
    _watch(Path(sys.argv[1]), Path(sys.argv[2]), [int(word) for word in sys.argv[3:]])
