"""Where a long session's steps lie until they are summed up: the newest in memory, else a file.

A step with all that was measured of it takes 1.3 kB: eight hours of running would be over 100 MB.
"""

from __future__ import annotations

import pickle
import tempfile
import weakref
from collections.abc import Iterator, Sequence
from typing import IO, overload

from station.values import StepRecord

BLOCK = 128
"""Steps put away at once, which takes about a millisecond."""


class Shelf:
    """A nameless file of blocks of steps, gone with the process. Used by one thread."""

    def __init__(self, block: int = BLOCK) -> None:
        """Begin without a file.

        Args:
            block: Steps put away at once, 1 or more.
        """
        self.block = block
        self._file: IO[bytes] | None = None
        self._end = 0

    def rows(self) -> StepRows:
        """Return a new, empty sequence of steps that puts them away here."""
        return StepRows(self)

    def put(self, steps: list[StepRecord]) -> tuple[int, int] | None:
        """Put steps away.

        Returns:
            Where they lie; None: no disk takes them.
        """
        data = pickle.dumps(steps, pickle.HIGHEST_PROTOCOL)
        try:
            if self._file is None:
                # Unbuffered: whether it was written is known at once.
                file: IO[bytes] = tempfile.TemporaryFile(buffering=0)  # noqa: SIM115, closed with this
                weakref.finalize(self, file.close)
                self._file = file
            self._file.seek(self._end)
            if self._file.write(data) != len(data):
                return None
        except OSError:
            return None
        place = self._end, len(data)
        self._end += len(data)
        return place

    def get(self, place: tuple[int, int]) -> list[StepRecord]:
        """Return what was put there."""
        assert self._file is not None
        self._file.seek(place[0])
        steps: list[StepRecord] = pickle.loads(self._file.read(place[1]))
        return steps


class StepRows(Sequence[StepRecord]):
    """Steps in order; all of them can be read again at any time."""

    def __init__(self, shelf: Shelf) -> None:
        """Begin with none.

        Args:
            shelf: Takes what is not the newest.
        """
        self._shelf = shelf
        self._away: list[tuple[int, int] | list[StepRecord]] = []
        self._newest: list[StepRecord] = []

    def append(self, record: StepRecord) -> None:
        """Take the next step."""
        self._newest.append(record)
        if len(self._newest) >= self._shelf.block:
            # A full disk: they stay in memory, as they always did.
            self._away.append(self._shelf.put(self._newest) or self._newest)
            self._newest = []

    def __len__(self) -> int:
        return len(self._away) * self._shelf.block + len(self._newest)

    def __iter__(self) -> Iterator[StepRecord]:
        for block in self._away:
            yield from self._read(block)
        yield from self._newest

    @overload
    def __getitem__(self, place: int) -> StepRecord: ...

    @overload
    def __getitem__(self, place: slice) -> list[StepRecord]: ...

    def __getitem__(self, place: int | slice) -> StepRecord | list[StepRecord]:
        if isinstance(place, slice):
            return list(self)[place]
        at = range(len(self))[place]
        block, within = divmod(at, self._shelf.block)
        if block < len(self._away):
            return self._read(self._away[block])[within]
        return self._newest[within]

    def _read(self, block: tuple[int, int] | list[StepRecord]) -> list[StepRecord]:
        return block if isinstance(block, list) else self._shelf.get(block)
