"""Carries what the audio thread plays to the loop's thread, which writes it down."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from station.sound.tones import SAMPLE_RATE_HZ

Put = Callable[[int, NDArray[np.float32]], None]
"""Takes a block's first sample and the block, (n, 2), which is the giver's own: copy it."""
MOST_WAITING = 4 * SAMPLE_RATE_HZ
"""Samples between the two threads: the loop may be held up for so long."""


class Tap:
    """A bounded queue of blocks between two threads; neither ever waits for the other.

    Each thread counts for itself and only reads the other's count, so no lock is needed.
    """

    def __init__(self, most_waiting: int = MOST_WAITING) -> None:
        """Begin empty.

        Args:
            most_waiting: Samples; a block beyond it is dropped and counted.
        """
        self.lost = 0
        """Samples that were dropped because nobody fetched in time."""
        self._most = most_waiting
        self._blocks: deque[tuple[int, NDArray[np.float32]]] = deque()
        self._put = 0
        self._taken = 0

    def put(self, start: int, block: NDArray[np.float32]) -> None:
        """Keep a copy of a block; for the audio thread, never blocks.

        Args:
            start: Its first sample's number in the stream.
            block: (n, 2).
        """
        if self._put - self._taken + len(block) > self._most:
            self.lost += len(block)
            return
        self._put += len(block)
        self._blocks.append((start, block.copy()))

    def drain(self, put: Put) -> None:
        """Hand on what waits, oldest first; for the loop's thread."""
        for _ in range(len(self._blocks)):
            start, block = self._blocks.popleft()
            self._taken += len(block)
            put(start, block)
