"""A thread with a name, a stop signal, a bounded join and a place for its exception."""

from __future__ import annotations

import threading
from collections.abc import Callable


class Worker:
    """Calls `turn` again and again until it is told to stop and `turn` says that it is done."""

    def __init__(self, name: str, turn: Callable[[bool], bool]) -> None:
        """Make the thread; `start` starts it.

        Args:
            name: Of the thread.
            turn: Does one piece of work, bounded in time; is told whether the end is asked for,
                and returns whether nothing is left to do then.
        """
        self.fault: BaseException | None = None
        """What ended it before its time."""
        self._turn = turn
        self._stopping = threading.Event()
        # A database that never answers must not keep the program from ending.
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)

    def start(self) -> None:
        """Start."""
        self._thread.start()

    def stop(self, timeout_s: float) -> bool:
        """Ask for the end and wait for it; return whether it has come. Safe to repeat."""
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(timeout_s)
        return not self._thread.is_alive()

    def ask(self) -> None:
        """Ask for the end without waiting."""
        self._stopping.set()

    def _run(self) -> None:
        try:
            while True:
                asked = self._stopping.is_set()  # before the turn: what came meanwhile is seen
                if self._turn(asked) and asked:
                    return
        except BaseException as fault:
            self.fault = fault
