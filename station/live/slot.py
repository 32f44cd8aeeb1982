"""The hand-over between two threads: a bounded place where the newest wins."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from typing import Generic, TypeVar

Item = TypeVar("Item")
Wait = Callable[[threading.Condition, float], object]


def _wait(ready: threading.Condition, timeout_s: float) -> object:
    return ready.wait(timeout_s)


class NewestSlot(Generic[Item]):
    """Holds at most `capacity` items; a new one pushes the oldest out, which is counted."""

    def __init__(self, capacity: int = 1, wait: Wait = _wait) -> None:
        """Begin empty.

        Args:
            capacity: 1 or more.
            wait: How to wait on the condition for so many seconds; tests give their own.
        """
        if capacity < 1:
            raise ValueError(f"a slot holds 1 item or more, not {capacity}")
        self._items: deque[Item] = deque()
        self._capacity = capacity
        self._ready = threading.Condition()
        self._wait = wait
        self._closed = False
        self._dropped = 0

    def put(self, item: Item) -> bool:
        """Put an item in; where the place is full the oldest one is dropped. Never waits.

        Returns:
            Whether one was dropped.
        """
        with self._ready:
            if self._closed:  # nobody wants it any more: that is no drop
                return False
            full = len(self._items) >= self._capacity
            if full:
                self._items.popleft()
                self._dropped += 1
            self._items.append(item)
            self._ready.notify()
            return full

    def take(self, timeout_s: float) -> Item | None:
        """Take the oldest item, waiting for one; None: none came in time, or it is closed."""
        with self._ready:
            if not self._items and not self._closed and timeout_s > 0.0:
                self._wait(self._ready, timeout_s)
            return self._items.popleft() if self._items else None

    def close(self) -> None:
        """Take no more items and wake who waits; what is inside can still be taken."""
        with self._ready:
            self._closed = True
            self._ready.notify_all()

    @property
    def over(self) -> bool:
        """Whether it is closed and empty: nothing will ever come again."""
        with self._ready:
            return self._closed and not self._items

    @property
    def dropped(self) -> int:
        """How many items nobody took."""
        with self._ready:
            return self._dropped
