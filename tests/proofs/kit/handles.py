"""What this process holds now: memory, threads, open handles, and the processor time it has had."""

from __future__ import annotations

import os
import time
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Held:
    """At one instant."""

    resident_mb: float
    threads: int
    handles: int
    used_s: float
    """Processor time of all threads so far."""


def held_now() -> Held:
    """Look at this process (Linux)."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return Held(
        pages * os.sysconf("SC_PAGE_SIZE") / 2**20,
        len(os.listdir("/proc/self/task")),
        len(os.listdir("/proc/self/fd")) - 1,  # the listing itself is open meanwhile
        time.process_time(),
    )
