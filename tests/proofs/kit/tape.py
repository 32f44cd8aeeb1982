"""Record what a sound server plays, with the monotonic time at which every piece of it came.

Judges of the station's timing must not trust the station's own clocks. So the recorder is a
process of its own, which asks the sound server directly:

- it reads the sink's monitor in small pieces and notes when each came, and
- it plays a quiet, high marker through the same server every so often and notes when it was given.

The sink works a block out just before its first sample is due, so the pieces give the sink's clock
(`Tape.times_s`). No sample can be heard before it was given: the markers check it.

    python tests/proofs/kit/tape.py FOLDER     (started by `taping`; ends at SIGTERM)
"""

from __future__ import annotations

import contextlib
import ctypes
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
from scipy.stats import theilslopes

RATE_HZ = 48_000
PIECE = 192  # samples read at once: 4 ms
FRAGMENT = 480  # samples the server may hold back: 10 ms
MARKER_HZ = (9_000.0, 13_000.0)
MARKER_S = 0.020
MARKER_PEAK = 0.02
MARKER_EVERY_S = 0.73
_WINDOW_S = 1.0
_UP_MAX_S = 40.0
_PLAYBACK, _RECORD, _FLOAT32LE = 1, 2, 5


def marker_tone() -> NDArray[np.float32]:
    """Make the marker, (n,): a rising whistle far above every sound of the station."""
    t = np.arange(round(MARKER_S * RATE_HZ)) / RATE_HZ
    low, high = MARKER_HZ
    phase = 2 * np.pi * (low * t + (high - low) * t * t / (2 * MARKER_S))
    return (MARKER_PEAK * np.sin(phase) * np.sin(np.pi * t / MARKER_S) ** 2).astype(np.float32)


@dataclass(frozen=True)
class Tape:
    """A finished recording."""

    sound: NDArray[np.float32]
    """(n, 2)."""
    came: NDArray[np.float64]
    """(m, 2): index after the last sample of a piece, monotonic seconds at which it had come."""
    marked_s: NDArray[np.float64]
    """(k,) monotonic seconds just before each marker was given to the server."""

    def block_s(self) -> float:
        """Return the sink's block: the median sound that came at one waking."""
        new = np.flatnonzero(np.diff(self.came[:, 1]) > 0.0005)
        return float(np.median(np.diff(self.came[new, 0]))) / RATE_HZ if new.size > 1 else 0.0

    def times_s(self, samples: NDArray[np.integer]) -> NDArray[np.float64]:
        """Return when samples were due, monotonic seconds, to half a block either way.

        The server counts its null sink's time in whole microseconds a block, so that its samples
        come some 300 parts in a million faster than the monotonic clock, steadily. It wakes a block
        before a block's last sample is due, seldom late: the line under all pieces' times is the
        sink's clock (the timely wakings of every second lie within 1 ms of it on a busy machine).

        Args:
            samples: (n,) places in the recording.

        Returns:
            (n,) the middles.
        """
        place_s = self.came[:, 0] / RATE_HZ
        after_s = self.came[:, 1] - place_s
        drift = _drift(place_s, after_s)
        woke_s = float((after_s - drift * place_s).min())
        return woke_s + 0.5 * self.block_s() + (1.0 + drift) * np.asarray(samples) / RATE_HZ

    def too_early(self, markers: NDArray[np.int64]) -> tuple[int, int]:
        """Check the times: how many markers were due before they were given, and of how many.

        The server wakes late now and then, so a few may be; were the times too early, many would.

        Args:
            markers: (k,) where the markers' onsets are, samples, rising.
        """
        due_s = self.times_s(markers) + 0.5 * self.block_s()
        slack_s = [due_s[due_s > given_s - 0.02][:1] - given_s for given_s in self.marked_s]
        found = np.array([float(s[0]) for s in slack_s if s.size and s[0] < 0.3])
        return int((found < 0.0).sum()), int(found.size)


def _drift(place_s: NDArray[np.float64], after_s: NDArray[np.float64]) -> float:
    """Return by how much the sink's clock is slow, seconds a second, from its timely wakings."""
    window = (place_s // _WINDOW_S).astype(int)
    best = [np.flatnonzero(window == w)[after_s[window == w].argmin()] for w in np.unique(window)]
    if len(best) < 3:
        return 0.0
    return float(theilslopes(after_s[best], place_s[best])[0])


@contextlib.contextmanager
def taping(env: dict[str, str], folder: Path, markers: bool = True) -> Iterator[None]:
    """Record into `folder` while the block runs; read it afterwards with `read_tape`.

    Args:
        env: Names the server.
        folder: Gets the files; made.
        markers: Play markers as well. False: nothing but the station is heard.
    """
    folder.mkdir(parents=True, exist_ok=True)
    command = [sys.executable, __file__, str(folder), "markers" if markers else "plain"]
    process = subprocess.Popen(command, env=os.environ | env)
    try:
        end_s = time.monotonic() + _UP_MAX_S
        sound = folder / "sound.raw"
        while not (sound.exists() and sound.stat().st_size):
            if process.poll() is not None or time.monotonic() > end_s:
                raise RuntimeError("the recorder gets nothing from the sound server")
            time.sleep(0.05)
        yield
    finally:
        process.terminate()
        process.wait(10)


def read_tape(folder: Path) -> Tape:
    """Read a recording of `taping`."""
    samples = np.fromfile(folder / "sound.raw", dtype="<f4")
    came = np.fromfile(folder / "came.raw", dtype="<f8").reshape(-1, 2)
    marked = np.fromfile(folder / "marked.raw", dtype="<f8")
    return Tape(samples.reshape(-1, 2), came, marked)


# --- the recorder's process ---------------------------------------------------------------------


class _Spec(ctypes.Structure):
    _fields_ = (("format", ctypes.c_int), ("rate", ctypes.c_uint32), ("channels", ctypes.c_uint8))


class _Buffer(ctypes.Structure):
    _fields_ = tuple(
        (name, ctypes.c_uint32) for name in ("maxlength", "tlength", "prebuf", "minreq", "fragsize")
    )


class _Stream:
    """A blocking stream of the server's own client library (its `simple` interface)."""

    def __init__(self, way: int, device: bytes | None, samples: int) -> None:
        self._lib = ctypes.CDLL("libpulse-simple.so.0")
        self._lib.pa_simple_new.restype = ctypes.c_void_p
        n, default = samples * 8, 0xFFFFFFFF
        spec = _Spec(_FLOAT32LE, RATE_HZ, 2)
        buffer = _Buffer(default, n, 0, default, n)
        fault = ctypes.c_int()
        self._stream = self._lib.pa_simple_new(
            None, b"proof", way, device, b"proof", ctypes.byref(spec), None, ctypes.byref(buffer),
            ctypes.byref(fault),
        )  # fmt: skip
        if not self._stream:
            raise RuntimeError(f"the sound server refuses a stream (fault {fault.value})")

    def read(self, into: ctypes.Array) -> None:
        self._ask(self._lib.pa_simple_read, into, ctypes.sizeof(into))

    def write(self, data: bytes) -> None:
        self._ask(self._lib.pa_simple_write, data, len(data))

    def _ask(self, what: object, data: object, n: int) -> None:
        if what(ctypes.c_void_p(self._stream), data, ctypes.c_size_t(n), None) < 0:  # type: ignore[operator]
            raise RuntimeError("the sound server is gone")


def _play_markers(ended: threading.Event, marked_s: list[float]) -> None:
    stream = _Stream(_PLAYBACK, b"station", FRAGMENT)
    silence = np.zeros((PIECE, 2), np.float32).tobytes()
    marker = np.repeat(marker_tone()[:, np.newaxis], 2, axis=1).tobytes()
    next_s = time.monotonic() + 0.3
    while not ended.is_set():
        now_s = time.monotonic()
        if now_s >= next_s:
            marked_s.append(now_s)
            stream.write(marker)
            next_s = now_s + MARKER_EVERY_S
        else:
            stream.write(silence)  # blocks until there is room: the stream's own pace


def _record(folder: Path, markers: bool) -> None:
    ended = threading.Event()
    signal.signal(signal.SIGTERM, lambda *_: ended.set())
    signal.signal(signal.SIGINT, lambda *_: ended.set())
    stream = _Stream(_RECORD, b"station.monitor", FRAGMENT)
    marked_s: list[float] = []
    player = threading.Thread(target=_play_markers, args=(ended, marked_s), daemon=True)
    if markers:
        player.start()
    came: list[tuple[int, float]] = []
    piece = (ctypes.c_char * (PIECE * 8))()
    count = 0
    with (folder / "sound.raw").open("wb") as out:
        while not ended.is_set():
            stream.read(piece)
            now_s = time.monotonic()
            count += PIECE
            came.append((count, now_s))
            out.write(piece)
    np.array(came, dtype="<f8").tofile(folder / "came.raw")
    np.array(marked_s, dtype="<f8").tofile(folder / "marked.raw")


if __name__ == "__main__":
    _record(Path(sys.argv[1]), sys.argv[2] == "markers")
