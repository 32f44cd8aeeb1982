"""Whether anything else used the processor while something was timed."""

from __future__ import annotations

import os
import time
from pathlib import Path

STAT = Path("/proc/stat")
MOST_SHARE = 0.1
"""Of the processor, from which on timings are those of another machine."""
_BUSY = (0, 1, 2, 5, 6, 7)
"""Fields of the first line that are work: user, nice, system, irq, softirq, and what the machine
that this one is a guest of took for itself; proc_stat(5)."""


class OthersWatch:
    """Knows what share of the processor others had since it was made. Linux only."""

    def __init__(self, stat: Path = STAT, cores: int | None = None) -> None:
        """Begin now.

        Args:
            stat: The system's own account.
            cores: Of this machine; None: as the system says.
        """
        self._stat = stat
        self._cores = cores or os.cpu_count() or 1
        self._busy_s = self._busy()
        self._own_s, self._began_s = time.process_time(), time.monotonic()

    def share(self) -> float | None:
        """Return their share from 0 to 1; None: this system does not tell."""
        busy_s = self._busy()
        if busy_s is None or self._busy_s is None:
            return None
        took_s = (time.monotonic() - self._began_s) * self._cores
        others_s = busy_s - self._busy_s - (time.process_time() - self._own_s)
        return min(max(others_s / took_s, 0.0), 1.0) if took_s > 0.0 else None

    def _busy(self) -> float | None:
        try:
            first = self._stat.read_text(encoding="ascii").partition("\n")[0].split()
            fields = [int(field) for field in first[1:]]
            return sum(fields[place] for place in _BUSY) / os.sysconf("SC_CLK_TCK")
        except (OSError, ValueError, IndexError, AttributeError):
            return None
