"""The station, in which one part hangs for good once this process gets SIGUSR1.

python hanging_station.py loop|pose|camera|none ARGUMENTS OF station...

The monotonic time at which it began to hang goes into the file that HUNG_AT names.
"""

from __future__ import annotations

import station  # noqa: F401

# isort: split

import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from station.commands.bay_screen import WindowedBay
from station.commands.main import main
from station.see.pose_model import MediapipePose
from station.simulate.source import SimulatedSource

PARTS: dict[str, tuple[type, str]] = {
    "loop": (WindowedBay, "show_page"),
    "pose": (MediapipePose, "find"),
    "camera": (SimulatedSource, "receive"),
}


def hang_in(part: str) -> None:
    """Let a part wait for ever from the signal on."""
    hung = threading.Event()
    signal.signal(signal.SIGUSR1, lambda *_: hung.set())
    owner, name = PARTS[part]
    usual: Callable[..., Any] = getattr(owner, name)

    def method(*args: Any, **kwargs: Any) -> Any:
        if hung.is_set():
            Path(os.environ["HUNG_AT"]).write_text(str(time.monotonic()))
            threading.Event().wait()
        return usual(*args, **kwargs)

    setattr(owner, name, method)


if __name__ == "__main__":
    if sys.argv[1] != "none":
        hang_in(sys.argv[1])
    sys.exit(main(sys.argv[2:]))
