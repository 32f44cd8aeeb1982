"""What each reader of a file must do with any bytes: read them or refuse them with words."""

from __future__ import annotations

import tempfile
from pathlib import Path

import cv2
import numpy as np

from station.clock import StreamClock
from station.errors import BadInput
from station.ports import EndOfStream
from station.see.clip import ClipSource
from station.see.trace import TraceSource
from station.see.trace_columns import REQUIRED
from station.settings import read_bay, read_plan
from station.settings.scenario import read_scenario

ROWS = FRAMES = 20
"""Of the small ones."""
MOST_FRAMES = 10_000
"""More than any file made here holds: a reader that gives more would never end."""


def trace_bytes() -> bytes:
    """Return a small trace that is well."""
    rng = np.random.default_rng(3)
    lines = [",".join(REQUIRED)]
    for i in range(ROWS):
        cells = [f"{i / 60:.6f}", *(f"{v:.2f}" for v in rng.uniform(100, 900, len(REQUIRED) - 1))]
        lines.append(",".join(cells))
    return ("\n".join(lines) + "\n").encode()


def clip_bytes(code: str) -> bytes:
    """Return a small clip that is well."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"clip.{'avi' if code == 'MJPG' else 'mp4'}"
        film = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*code), 30.0, (96, 64))
        for i in range(FRAMES):
            film.write(np.random.default_rng(i).integers(0, 255, (64, 96, 3), np.uint8))
        film.release()
        return path.read_bytes()


def read_any_trace(path: Path) -> int | str:
    """Read a trace to its end; return how many poses it gave, or why it was refused."""
    source = TraceSource(path)
    try:
        source.start()
        return _count(source)
    except BadInput as refused:
        return said(refused)
    finally:
        source.stop()


def read_any_clip(path: Path) -> int | str:
    """Read a clip to its end; return how many frames it gave, or why it was refused."""
    source = ClipSource(path)
    try:
        source.start(StreamClock(), paced=False)
        last_s, count = -1.0, 0
        while count < MOST_FRAMES:
            frame = source.receive(0.0)
            assert frame is not None
            assert frame.t_s > last_s, "times rise, whatever the file says"
            last_s, count = frame.t_s, count + 1
        raise AssertionError("the clip never ends")
    except EndOfStream:
        return count
    except BadInput as refused:
        return said(refused)
    finally:
        source.stop()


def read_any_settings(path: Path) -> list[str]:
    """Read a file as plan, bay and scenario; return why each was refused, where it was."""
    told = []
    for read in (read_plan, read_bay, read_scenario):
        try:
            read(path)
        except BadInput as refused:
            told.append(said(refused))
    return told


def said(refused: BadInput) -> str:
    """Return the words of a refusal; there must be some, and they name the file."""
    text = str(refused)
    assert text.strip()
    assert "Traceback" not in text
    return text


def _count(source: TraceSource) -> int:
    count, last_s = 0, float("-inf")
    try:
        while count < MOST_FRAMES:
            pose = source.receive()
            assert pose.t_s > last_s
            last_s, count = pose.t_s, count + 1
    except EndOfStream:
        return count
    raise AssertionError("the trace never ends")
