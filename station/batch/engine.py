"""Who does the work: threads here that each wait for a process, or an existing Dask cluster."""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, Future, ThreadPoolExecutor, as_completed
from dataclasses import dataclass
from functools import partial
from typing import Any

from station.batch.work import Job, Outcome, Process, analyse
from station.errors import BadInput, DeviceTrouble

CONNECT_S = 10
"""How long a scheduler may take to answer."""


Work = Callable[[Job], Outcome]


@dataclass(frozen=True, slots=True)
class Workers:
    """Whoever does the work, and what doing one job is."""

    pool: Executor
    work: Work

    def do_all(self, jobs: Sequence[Job]) -> Iterator[Outcome]:
        """Do all jobs, and yield each outcome as it comes."""
        asked: dict[Future[Outcome], Job] = {self.pool.submit(self.work, job): job for job in jobs}
        for done in as_completed(asked):
            fault = done.exception()
            if fault is None:
                yield done.result()
            else:  # the worker itself was lost: told, and the others go on
                yield Outcome(asked[done].name, 1, f"{type(fault).__name__}: {fault}")


@contextlib.contextmanager
def workers(processes: int, scheduler: str | None) -> Iterator[Workers]:
    """Open whoever does the work, for as long as the block runs; afterwards nothing runs here.

    Args:
        processes: How many at once, where it is done here.
        scheduler: Address of a Dask scheduler, such as `tcp://10.0.0.5:8786`, whose workers have
            the station installed and see the same files under the same paths; None: here.

    Raises:
        BadInput: Dask is not installed, or this is no address.
        DeviceTrouble: The scheduler does not answer, or has no workers.
    """
    if scheduler is not None:
        with _client(scheduler) as client:
            yield Workers(client.get_executor(pure=False), analyse)
        return
    begun = _Begun()
    with ThreadPoolExecutor(processes, "station-batch") as pool:
        try:
            yield Workers(pool, partial(analyse, watch=begun.watch))
        finally:
            pool.shutdown(wait=False, cancel_futures=True)
            begun.end()


class _Begun:
    """The processes that have begun, so that those which still run can be ended."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._running: list[Process] = []
        self._over = False

    def watch(self, process: Process) -> None:
        with self._lock:
            self._running = [one for one in self._running if one.poll() is None]
            self._running.append(process)
            if self._over:
                process.terminate()

    def end(self) -> None:
        with self._lock:
            self._over = True
            for process in self._running:
                if process.poll() is None:
                    process.kill()  # what it was making is taken away all the same


def _client(scheduler: str) -> Any:
    try:
        from distributed import Client
    except ImportError:
        raise BadInput(
            "--scheduler needs Dask, which is not installed; in the station's folder: "
            "pip install -c constraints.txt '.[cluster]'"
        ) from None
    try:
        client = Client(scheduler, timeout=CONNECT_S)
    except ValueError as fault:
        raise BadInput(
            f"--scheduler {scheduler}: this is no address ({fault}); allowed is one such as "
            "tcp://10.0.0.5:8786"
        ) from None
    except OSError as fault:
        raise DeviceTrouble(
            f"--scheduler {scheduler}: no Dask scheduler answers there ({fault}); start one with "
            "'dask scheduler', and workers with 'dask worker ADDRESS'"
        ) from None
    try:
        client.wait_for_workers(1, timeout=CONNECT_S)
    except (OSError, asyncio.TimeoutError):
        client.close()
        raise DeviceTrouble(
            f"--scheduler {scheduler}: it answers, but no worker is connected to it; start one or "
            f"more with 'dask worker {scheduler}', where the station is installed"
        ) from None
    return client
