"""One thread of the station: named, stoppable, and with a place for its exception."""

from __future__ import annotations

import threading
from collections.abc import Callable

from station.errors import StationError


class Worker:
    """Repeats one short turn of work in its own thread until it is over or told to stop."""

    def __init__(
        self, name: str, turn: Callable[[], bool], at_end: Callable[[], None] | None = None
    ) -> None:
        """Prepare the thread.

        Args:
            name: Of the thread.
            turn: Does a bounded piece of work; returns False when there is no more.
            at_end: Called in the thread however it ends; must not raise.
        """
        self.name = name
        self.failure: BaseException | None = None
        """What ended the thread, once it has ended by an exception."""
        self._turn = turn
        self._at_end = at_end
        self._stop = threading.Event()
        # A daemon, so that a driver that never returns cannot keep the process alive.
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)

    def start(self) -> None:
        """Start the thread."""
        self._thread.start()

    def _run(self) -> None:
        try:
            while not self._stop.is_set() and self._turn():
                pass
        except BaseException as failure:  # kept, to be raised where it can be acted upon
            self.failure = failure
        finally:
            if self._at_end is not None:
                self._at_end()

    def ask_to_stop(self) -> None:
        """Let the thread end after its present turn; safe to repeat."""
        self._stop.set()

    def join(self, timeout_s: float) -> bool:
        """Wait for the end, for at most so long; return whether it has come."""
        if self._thread.ident is not None:
            self._thread.join(timeout_s)
        return not self._thread.is_alive()

    def raise_failure(self) -> None:
        """Raise what ended the thread, once; a thread that did not fail raises nothing."""
        failure, self.failure = self.failure, None
        if failure is None:
            return
        if isinstance(failure, Exception):
            raise failure
        raise StationError(f"the thread '{self.name}' was ended by {failure!r}") from failure
