"""What waits for the database: on the disk first, in memory where the disk takes nothing."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Sequence

from station.keep.store.engine import reason
from station.keep.store.facts import Operation
from station.keep.store.journal import Journal, to_line

MEMORY_MOST = 20_000
"""Operations kept in memory while the disk is full: almost two hours of running."""


class Backlog:
    """Keeps operations in order between the two threads of the writer."""

    def __init__(self, journal: Journal | None, memory_most: int = MEMORY_MOST) -> None:
        """Begin with what the journal holds.

        Args:
            journal: The visit's spool file; None: it could not be made, only memory is left.
            memory_most: Operations beyond it are dropped and counted.
        """
        self.lost = 0
        """Operations dropped since neither disk nor memory had room."""
        self.disk_fault: str | None = None
        """Why the spool file takes nothing now; None: it does."""
        self._journal = journal
        self._memory: deque[Operation] = deque()
        self._memory_most = memory_most
        self._lock = threading.Lock()
        self._from_memory = 0

    def __len__(self) -> int:
        """Return 0 where nothing waits; else how many wait in memory, at least 1."""
        with self._lock:
            on_disk = self._journal is not None and self._journal.waiting_bytes > 0
            return len(self._memory) + on_disk

    @property
    def in_memory(self) -> int:
        """How many wait in memory: gone, if this process ends now."""
        with self._lock:
            return len(self._memory)

    def add(self, operations: Sequence[Operation]) -> None:
        """Put operations behind the others; on the disk when this returns, if it can be."""
        with self._lock:
            self._memory.extend(operations)
            self._to_disk()
            while len(self._memory) > self._memory_most:
                self._memory.popleft()
                self._from_memory = max(0, self._from_memory - 1)
                self.lost += 1

    def _to_disk(self) -> None:
        if not self._memory or self._journal is None or self._from_memory:
            return
        try:
            self._journal.append(b"".join(to_line(one) for one in self._memory))
        except OSError as fault:
            self.disk_fault = fault.strerror or reason(fault)
            return
        self.disk_fault = None
        self._memory.clear()

    def take(self, most: int = 500) -> list[Operation]:
        """Return the oldest operations; they stay until `taken` is called."""
        with self._lock:
            if self._journal is not None and self._journal.waiting_bytes:
                found, bad = self._journal.take(most)
                self.lost += bad
                if not found:
                    self._journal.taken()
                return found
            found = [self._memory[i] for i in range(min(most, len(self._memory)))]
            self._from_memory = len(found)
            return found

    def taken(self) -> None:
        """Let go of what the last `take` gave."""
        with self._lock:
            if self._from_memory:
                for _ in range(self._from_memory):
                    self._memory.popleft()
                self._from_memory = 0
            elif self._journal is not None:
                self._journal.taken()

    def kept(self) -> None:
        """The last `take` came to nothing: all of it stays."""
        with self._lock:
            self._from_memory = 0
