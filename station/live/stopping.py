"""The wish to end a session, from Ctrl-C, the system, the window or the clock."""

from __future__ import annotations

import contextlib
import signal
from collections.abc import Iterator
from types import FrameType
from typing import Any


class StopWish:
    """Keeps the first reason given; may be set from a signal handler."""

    def __init__(self) -> None:
        """Begin without a wish."""
        self.reason: str | None = None
        """Why to end; None: go on."""

    def wish(self, reason: str) -> None:
        """Ask for the end; the first reason stays."""
        if self.reason is None:
            self.reason = reason


_REASONS = {signal.SIGINT: "Ctrl-C", signal.SIGTERM: "asked to end by the system"}


@contextlib.contextmanager
def signals_wish(stop: StopWish) -> Iterator[None]:
    """Let Ctrl-C and SIGTERM ask for the end within the block; main thread only.

    A second Ctrl-C raises KeyboardInterrupt: whoever presses it twice means at once.
    """

    def handle(number: int, _frame: FrameType | None) -> None:
        if stop.reason is not None and number == signal.SIGINT:
            raise KeyboardInterrupt
        stop.wish(_REASONS[signal.Signals(number)])

    before: dict[signal.Signals, Any] = {}
    try:
        for number in _REASONS:
            before[number] = signal.signal(number, handle)
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
