"""Writes a visit beside the live loop, which only puts and never waits.

Two threads. `records-spool` takes what was put and has it on this computer's disk at once;
`records-database` moves it into the database, however long that takes or hangs. So a step is on a
disk within a second even where a database server does not answer.
"""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable
from typing import Any

from sqlalchemy.exc import DataError, IntegrityError, SQLAlchemyError, StatementError

from station.errors import StationError
from station.keep.store.backlog import Backlog
from station.keep.store.engine import reason
from station.keep.store.facts import Operation
from station.keep.store.gate import Gate
from station.keep.store.journal import Journal
from station.keep.store.moving import VisitUnknown, move
from station.keep.store.worker import Worker

QUEUE_MOST = 10_000
SPOOL_EVERY_S = 0.2
HEARTBEAT_S = 10.0
BACKOFF_S = (0.25, 0.5, 1.0, 2.0, 5.0)
"""Waits between tries while the database takes nothing; the last is repeated."""
_NOT_ONE_OF_THESE = (IntegrityError, DataError)

Put = Callable[[], Operation]
"""Makes the operation: on the writer's thread, so that the loop's does no more than it must."""


class VisitWriter:
    """Keeps one visit. `put` is for the loop's thread, the rest for its owner's."""

    def __init__(
        self,
        gate: Gate,
        journal: Journal | None,
        begin: Operation,
        monotonic: Callable[[], float] = time.monotonic,
        queue_most: int = QUEUE_MOST,
    ) -> None:
        """Take the visit's first operation; nothing runs before `start`.

        Args:
            gate: The way into the database.
            journal: The visit's spool file, locked; None: it could not be made.
            begin: The visit's first operation.
            monotonic: For the waits between tries.
            queue_most: What is put beyond it is dropped and counted.
        """
        self.dropped = 0
        """Put when the queue was full."""
        self.refused = 0
        """Operations that the database will never take."""
        self.trouble: str | None = None
        """Why the database takes nothing now; None: it does."""
        self.moved = 0
        self.backlog = Backlog(journal)
        self._gate = gate
        self._journal = journal
        self._begin = begin
        self._monotonic = monotonic
        self._queue: queue.Queue[Put] = queue.Queue(queue_most)
        self._something = threading.Event()
        self._tries = 0
        self._next_try_s = float("-inf")
        self._alive_s = float("-inf")
        self._spooling = Worker("records-spool", self.spool_once)
        self._moving = Worker("records-database", self.move_once)
        self.backlog.add([begin])

    # --- for the loop ---------------------------------------------------------------------------

    def put(self, make: Put) -> None:
        """Give an operation; never waits."""
        try:
            self._queue.put_nowait(make)
        except queue.Full:
            self.dropped += 1

    @property
    def lost(self) -> int:
        """Everything that was put and will never be in the database."""
        return self.dropped + self.refused + self.backlog.lost

    @property
    def notice(self) -> str | None:
        """What the screen should say now; None: all is well."""
        told = []
        if self.fault is not None:
            told.append(f"a fault of the station's own ({type(self.fault).__name__})")
        if self.trouble is not None and self._tries > 1:  # a short lock is nobody's worry
            told.append(f"the database takes nothing ({self.trouble})")
        if self.backlog.disk_fault is not None:
            told.append(f"the disk takes nothing ({self.backlog.disk_fault})")
        lost = self.lost
        if not told and not lost:
            return None
        where = "memory" if self.backlog.disk_fault is not None else "the spool file"
        waits = f"; steps wait in {where} and go in later" if told else ""
        gone = f"; {lost} entries were lost" if lost else ""
        return f"records: {'; '.join(told)}{waits}{gone}" if told else f"records{gone}"

    @property
    def fault(self) -> BaseException | None:
        """What ended one of the threads before its time; None: nothing did."""
        return self._spooling.fault or self._moving.fault

    # --- for its owner --------------------------------------------------------------------------

    def start(self) -> None:
        """Start both threads."""
        self._spooling.start()
        self._moving.start()

    def close(self, timeout_s: float) -> int:
        """Write what is left, for at most about `timeout_s`; safe to repeat.

        Returns:
            How many operations are gone with this process: nobody would take them. What the spool
            file holds is not among them; it goes in at the next opening.
        """
        until_s = self._monotonic() + timeout_s
        self._spooling.stop(timeout_s)
        while self._queue.qsize() and self._spooling.fault is not None:
            self.backlog.add([self._queue.get_nowait()()])
        self._something.set()
        ended = self._moving.stop(max(0.5, until_s - self._monotonic()))
        gone = self.backlog.in_memory
        if self._journal is not None and ended:
            self._journal.close()
        self._gate.close()
        return gone

    # --- the threads ----------------------------------------------------------------------------

    def spool_once(self, stopping: bool, wait_s: float = SPOOL_EVERY_S) -> bool:
        """Take what was put, for one short while, onto the disk; return whether all is taken."""
        taken: list[Operation] = []
        try:
            taken.append(self._queue.get(timeout=0.0 if stopping else wait_s)())
            while True:
                taken.append(self._queue.get_nowait()())
        except queue.Empty:
            pass
        self.backlog.add(taken)  # also without any: what waits in memory is tried again
        if len(self.backlog):
            self._something.set()
        return not taken

    def move_once(self, stopping: bool, wait_s: float = 0.25) -> bool:
        """Move one batch; return whether nothing is left, or no more can be done at the end."""
        if not stopping and not self._something.wait(wait_s):
            self._keep_alive()
            return True
        if not stopping and self._monotonic() < self._next_try_s:
            threading.Event().wait(min(wait_s, max(0.0, self._next_try_s - self._monotonic())))
            return False
        self._something.clear()
        batch = self.backlog.take()
        if not batch:
            self._keep_alive()
            return True
        if not self._try(batch):
            self.backlog.kept()
            self._something.set()
            # At the end a lock gets a few tries more, then what waits stays in the spool.
            return self._tries >= 3
        if len(self.backlog):
            self._something.set()
            return False
        return True

    def _try(self, batch: list[Operation]) -> bool:
        try:
            try:
                self._gate.write(lambda connection: move(connection, batch, self._begin))
            except _NOT_ONE_OF_THESE:
                self._one_by_one(batch)
            except StatementError as fault:
                if type(fault) is not StatementError:  # its kinds are the database's own faults
                    raise
                self._one_by_one(batch)  # a value that cannot even be sent
        except (SQLAlchemyError, OSError, VisitUnknown, StationError) as fault:
            self._failed(fault)
            return False
        self.backlog.taken()
        self.moved += len(batch)
        self.trouble, self._tries, self._next_try_s = None, 0, float("-inf")
        self._alive_s = self._monotonic()
        return True

    def _one_by_one(self, batch: list[Operation]) -> None:
        """Find those that the database will never take, and let the others in."""
        for one in batch:
            try:
                self._gate.write(lambda connection, one=one: move(connection, [one], self._begin))
            except _NOT_ONE_OF_THESE:
                self.refused += 1
            except StatementError as fault:
                if type(fault) is not StatementError:
                    raise
                self.refused += 1

    def _failed(self, fault: Exception) -> None:
        self.trouble = reason(fault)
        self._gate.close()
        wait_s = BACKOFF_S[min(self._tries, len(BACKOFF_S) - 1)]
        self._tries += 1
        self._next_try_s = self._monotonic() + wait_s

    def _keep_alive(self) -> None:
        """Let other computers see that this visit goes on, where no step does."""
        now_s = self._monotonic()
        if now_s - self._alive_s < HEARTBEAT_S:
            return
        self._alive_s = now_s
        try:
            self._gate.beat(str(self._begin["visit"]))
        except (SQLAlchemyError, OSError, StationError) as fault:
            self._failed(fault)


def as_put(operation: dict[str, Any]) -> Put:
    """Return a ready operation in the form that `put` takes."""
    return lambda: operation
