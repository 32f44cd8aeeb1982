"""Asks all parts of a running station what is amiss with them, a few times a second."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from station.clock import Clock, WallClock
from station.keep.disk_room import free_bytes
from station.live.faults.board import FaultBoard
from station.live.faults.watches import ClockWatch, DiskWatch, SilenceWatch, StallWatch
from station.ports import FaultTeller, Ticking
from station.values import Fault

LOOK_EVERY_S = 0.1


class Watchman:
    """Fills a board of faults. Used by the loop's thread; `turn` is called in each turn."""

    def __init__(
        self,
        board: FaultBoard,
        clock: Clock,
        parts: Sequence[object],
        folders: Sequence[Path] = (),
        room: Callable[[Path], int | None] = free_bytes,
        wall: Callable[[], float] = time.time,
        monotonic: Callable[[], float] = time.monotonic,
    ) -> None:
        """Begin to watch.

        Args:
            board: Told of everything.
            clock: The session's. Stream time says nothing of the machine: then only the parts
                are asked.
            parts: Source, pose model, speaker, film; those that can tell of faults are asked, and
                the first that ticks is the camera.
            folders: Written into; their disks are looked at.
            room: Says how many bytes are free in a folder; None: not known.
            wall: The wall clock, seconds.
            monotonic: The monotonic clock, seconds.
        """
        self.board = board
        self._clock = clock
        self._live = isinstance(clock, WallClock)
        self._tellers = [part for part in parts if isinstance(part, FaultTeller)]
        self._camera = next((part for part in parts if isinstance(part, Ticking)), None)
        self._folders, self._room = tuple(folders), room
        self._wall, self._monotonic = wall, monotonic
        self._silence, self._jumps, self._stalls = SilenceWatch(), ClockWatch(), StallWatch()
        self._disk = DiskWatch()
        self._disk_fault: Fault | None = None
        self._looked_s = float("-inf")

    def turn(self, more: Iterable[Fault] = ()) -> None:
        """Look whether anything is amiss.

        Args:
            more: What the caller knows itself.
        """
        now_s = self._clock.now_s()
        if self._live and (stalled := self._stalls.look(now_s)) is not None:
            self.board.once(stalled, now_s)
        if now_s - self._looked_s < LOOK_EVERY_S:
            return
        self._looked_s = now_s
        found = [fault for part in self._tellers for fault in part.faults()]
        if self._live:
            found += self._of_the_machine(now_s)
        self.board.take((*found, *more), now_s)

    def _of_the_machine(self, now_s: float) -> list[Fault]:
        found = []
        if self._camera is not None:
            silent = self._silence.look(now_s, self._camera.ticks)
            found += [] if silent is None else [silent]
        jumped = self._jumps.look(self._wall(), self._monotonic())
        if jumped is not None:
            self.board.once(jumped, now_s)
        if self._folders and self._disk.due(now_s):
            rooms = [room for folder in self._folders if (room := self._room(folder)) is not None]
            self._disk_fault = self._disk.look(min(rooms, default=None))
        return [*found, *(() if self._disk_fault is None else (self._disk_fault,))]
