"""Lets a library's own threads step back behind the station's other threads."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

Made = TypeVar("Made")

NICER_BY = 5
"""Linux gives such a thread a third of the time that an ordinary one gets where both want a core,
and lets the ordinary one in at once when it wakes. On an idle core nothing changes."""


def made_yielding(make: Callable[[], Made]) -> Made:
    """Make something whose threads leave the processor to everybody else's when they wake.

    The pose model fills every core that it gets; sound, picture and pulse need theirs for a
    moment, but at that moment. A thread hands its niceness on to those that it starts, and on
    Linux alone each thread has its own (sched(7)): so `make` is called in a short-lived thread
    that has stepped back, and this thread stays as it is. Elsewhere it is merely called.

    Args:
        make: Starts the threads; runs in another thread than the caller's.

    Returns:
        What `make` returned; what it raised is raised.
    """
    if sys.platform != "linux":
        return make()
    with ThreadPoolExecutor(1, "station-yielding", _step_back) as pool:
        return pool.submit(make).result()


def _step_back() -> None:
    thread = threading.get_native_id()
    nice = min(19, os.getpriority(os.PRIO_PROCESS, thread) + NICER_BY)
    os.setpriority(os.PRIO_PROCESS, thread, nice)
