"""Puts what several threads bring back into the order in which it was begun."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Generic, TypeVar

Item = TypeVar("Item")


class InTurn(Generic[Item]):
    """Holds an item back until all that were begun before it are done. Used by any thread."""

    def __init__(self, give: Callable[[Item], object], most_held: int) -> None:
        """Begin with nothing begun.

        Args:
            give: Is given the items, in order, by one thread at a time; must neither wait nor call
                back.
            most_held: With more held back than this, what is waited for is given up: whatever it
                is, the others go on without it.
        """
        self.given_up = 0
        """Items that came too late, or never."""
        self._give = give
        self._most_held = most_held
        self._lock = threading.Lock()
        self._begun = self._next = 0
        self._held: dict[int, Item] = {}

    def begin(self) -> int:
        """Return the place of an item that is begun now."""
        with self._lock:
            self._begun += 1
            return self._begun - 1

    def done(self, place: int, item: Item) -> None:
        """Take a place's item; give all that need wait for no other now."""
        with self._lock:
            if place < self._next:
                return  # given up
            self._held[place] = item
            if len(self._held) > self._most_held:
                first = min(self._held)
                self.given_up += first - self._next
                self._next = first
            while self._next in self._held:
                self._give(self._held.pop(self._next))
                self._next += 1
