"""Opens a lost device again: one try at a time, each on a thread of its own, ever more seldom."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from station.errors import DeviceTrouble
from station.sound.outlet import Outlet

RETRY_S = (1.0, 2.0, 4.0, 8.0, 10.0)
"""Waits before the tries; the last one from then on."""
_ABANDON_MAX_S = 2.0

Aside = Callable[[Callable[[], None]], None]
"""Runs work beside the loop (tests: at once)."""


@dataclass(frozen=True, slots=True, eq=False)
class Opened:
    """A device that plays."""

    device: Any
    outlet: Outlet
    name: str
    notice: str | None
    latency_s: float
    """What it was opened with, as it says itself where it does."""


def in_thread(work: Callable[[], None]) -> None:
    """Run work on a thread that nobody waits for: a sound library may hang in it."""
    threading.Thread(target=work, name="sound-open", daemon=True).start()


class Reopening:
    """The tries to open one device. Called by the loop's thread, which is never held up."""

    def __init__(
        self,
        attempt: Callable[[], Opened],
        close: Callable[[Opened], None],
        aside: Aside,
        first_s: float,
    ) -> None:
        """Wait for the first try.

        Args:
            attempt: Opens the device, or raises DeviceTrouble.
            close: Closes one that is not wanted any more.
            aside: Runs a try.
            first_s: When the first try is due, session clock.
        """
        self.tries = 0
        self._attempt = attempt
        self._close = close
        self._aside = aside
        self._lock = threading.Lock()
        self._busy = False
        self._idle = threading.Event()
        self._idle.set()
        self._abandoned = False
        self._opened: Opened | None = None
        self._next_s = first_s

    def poll(self, now_s: float) -> Opened | None:
        """Make a try where one is due; return the device once one has succeeded.

        Args:
            now_s: Session clock.
        """
        with self._lock:
            due = not self._busy and self._opened is None and now_s >= self._next_s
            if due and not self._abandoned:
                self._busy = True
                self._idle.clear()
                self.tries += 1
                self._next_s = now_s + RETRY_S[min(self.tries, len(RETRY_S) - 1)]
            else:
                due = False
        if due:
            self._aside(self._run)
        with self._lock:
            opened, self._opened = self._opened, None
            if opened is not None:
                self._abandoned = True  # no more is wanted
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
