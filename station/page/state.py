"""What the pages are to show: the newest state, which any number of them wait for."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable, Mapping
from typing import Any


class Newest:
    """Hands the newest state from the loop's thread to the server's; a slow page misses some."""

    def __init__(self) -> None:
        """Begin with none."""
        self._text = "{}"
        self._number = 0
        self._waiting: set[asyncio.Event] = set()
        self._call: Callable[[], None] | None = None

    @property
    def text(self) -> str:
        """The newest, JSON."""
        return self._text

    def serve(self, loop: asyncio.AbstractEventLoop) -> None:
        """Name the server's loop, in whose thread pages wait."""

        def call() -> None:
            try:
                loop.call_soon_threadsafe(self._wake)
            except RuntimeError:  # the server is ending
                self._call = None

        self._call = call

    def put(self, state: Mapping[str, Any]) -> None:
        """Put a state in the place of the one before; any thread."""
        self._text = json.dumps(state, separators=(",", ":"), allow_nan=False)
        self._number += 1
        if self._call is not None:
            self._call()

    async def after(self, number: int) -> int:
        """Wait until there is a state after `number`, and return the newest one's number."""
        if self._number > number:
            return self._number
        new = asyncio.Event()
        self._waiting.add(new)
        try:
            if self._number <= number:
                await new.wait()
        finally:
            self._waiting.discard(new)
        return self._number

    def _wake(self) -> None:
        for waiting in self._waiting:
            waiting.set()
