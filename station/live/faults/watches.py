"""Faults that the loop itself must find: a hung camera, a clock that was set, a loop held up.

Times go in as numbers, told by whoever calls.
"""

from __future__ import annotations

from station.values import Fault

SILENT_S = 3.0
"""Longer than a camera that is well may block, and than it takes to say that it is lost."""
JUMP_S = 1.0
STALL_S = 2.0
LOW_BYTES = 500_000_000
"""Room for an hour of film and all records of a day."""
FULL_BYTES = 20_000_000
LOOK_EVERY_S = 5.0


class SilenceWatch:
    """Tells whether the camera's driver hangs: neither a picture nor a word of the camera's."""

    def __init__(self) -> None:
        """Begin before the first call."""
        self._ticks: int | None = None
        self._moved_s = float("-inf")

    def look(self, t_s: float, ticks: int) -> Fault | None:
        """Take the camera thread's count; return the fault while it stands still.

        Args:
            t_s: Session clock.
            ticks: Rises with every turn of the camera's thread.
        """
        if ticks != self._ticks:
            self._ticks, self._moved_s = ticks, t_s
            return None
        return Fault("camera_silent", blind=True) if t_s - self._moved_s >= SILENT_S else None


class ClockWatch:
    """Tells when the wall clock is set; session times are the monotonic clock's and stay right."""

    def __init__(self) -> None:
        """Begin before the first call."""
        self._offset_s: float | None = None

    def look(self, wall_s: float, monotonic_s: float) -> Fault | None:
        """Take both clocks; return the fault at the instant that the wall clock has jumped."""
        before_s, self._offset_s = self._offset_s, wall_s - monotonic_s
        if before_s is None or abs(self._offset_s - before_s) < JUMP_S:
            return None
        return Fault("clock_jumped", values=(("seconds", f"{self._offset_s - before_s:+.0f}"),))


class StallWatch:
    """Tells when the loop was held up."""

    def __init__(self) -> None:
        """Begin before the first call."""
        self._last_s: float | None = None

    def look(self, t_s: float) -> Fault | None:
        """Take the time of a turn; return the fault where the one before is long ago."""
        before_s, self._last_s = self._last_s, t_s
        if before_s is None or t_s - before_s < STALL_S:
            return None
        return Fault("stalled", values=(("seconds", f"{t_s - before_s:.0f}"),))


class DiskWatch:
    """Tells when a disk is nearly or wholly full."""

    def __init__(self) -> None:
        """Begin with room."""
        self._due_s = float("-inf")

    def due(self, t_s: float) -> bool:
        """Return whether it is time to look at the disk again."""
        if t_s < self._due_s:
            return False
        self._due_s = t_s + LOOK_EVERY_S
        return True

    def look(self, free_bytes: int | None) -> Fault | None:
        """Take what is free; return the fault; None: there is room, or nobody knows."""
        if free_bytes is None or free_bytes >= LOW_BYTES:
            return None
        if free_bytes < FULL_BYTES:
            return Fault("disk_full")
        return Fault("disk_low", values=(("mb", f"{free_bytes / 1e6:.0f}"),))
