"""Opens a lost device again: one try at a time, each on a thread of its own, ever more seldom."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from station.errors import DeviceTrouble
from station.sound.outlet import Outlet

PAUSES_S = (1.0, 2.0, 4.0, 8.0, 10.0)
"""Between one try and the next; the last one for ever."""
_ABANDON_MAX_S = 2.0

Spawn = Callable[[Callable[[], None]], None]
"""Runs a job aside (tests: at once)."""


@dataclass(frozen=True, slots=True, eq=False)
class Opened:
    """A device that plays."""

    device: Any
    outlet: Outlet
    name: str
    notice: str | None
    latency_s: float
    """What it was opened with, as it says itself where it does."""


def spawn_thread(job: Callable[[], None]) -> None:
    """Run a job on a thread that nobody waits for: a sound library may hang in it."""
    threading.Thread(target=job, name="sound-reopen", daemon=True).start()


class Reopening:
    """The tries to open one device. Called by the loop's thread, which is never held up."""

    def __init__(
        self, attempt: Callable[[], Opened], close: Callable[[Opened], None], spawn: Spawn
    ) -> None:
        """Begin; the first try is made at the first `poll`.

        Args:
            attempt: Opens the device, or raises DeviceTrouble.
            close: Closes one that is not wanted any more.
            spawn: Runs a try aside.
        """
        self.tries = 0
        self._attempt = attempt
        self._close = close
        self._spawn = spawn
        self._lock = threading.Lock()
        self._busy = False
        self._idle = threading.Event()
        self._idle.set()
        self._abandoned = False
        self._opened: Opened | None = None
        self._next_s = float("-inf")

    def poll(self, now_s: float) -> Opened | None:
        """Make a try where one is due; return the device once one has succeeded.

        Args:
            now_s: Session clock.
        """
        with self._lock:
            opened, self._opened = self._opened, None
            if opened is not None or self._busy or self._abandoned or now_s < self._next_s:
                return opened
            self._busy = True
            self._idle.clear()
        self._next_s = now_s + PAUSES_S[min(self.tries, len(PAUSES_S) - 1)]
        self.tries += 1
        self._spawn(self._run)
        with self._lock:
            opened, self._opened = self._opened, None
        return opened

    def abandon(self) -> None:
        """Want it no more: a device that a running try opens is closed by that, soon."""
        with self._lock:
            self._abandoned = True
            opened, self._opened = self._opened, None
        if opened is not None:
            self._close(opened)
        self._idle.wait(_ABANDON_MAX_S)

    def _run(self) -> None:
        opened: Opened | None = None
        try:
            opened = self._attempt()
        except DeviceTrouble:
            pass  # still gone: the next try tells
        finally:
            with self._lock:
                self._busy = False
                wanted = not self._abandoned
                if wanted:
                    self._opened = opened
        if opened is not None and not wanted:
            self._close(opened)
        self._idle.set()
