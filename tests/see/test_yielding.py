"""A library's threads step back; the station's own stay where they are."""

from __future__ import annotations

import os
import sys
import threading

import pytest

from station.see.yielding import NICER_BY, made_yielding

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="a thread's niceness is Linux's")


def niceness() -> int:
    return os.getpriority(os.PRIO_PROCESS, threading.get_native_id())


def test_threads_started_while_making_step_back_and_the_caller_does_not() -> None:
    before = niceness()

    def make() -> list[int]:
        seen: list[int] = []
        inner = threading.Thread(target=lambda: seen.append(niceness()))
        inner.start()
        inner.join()
        return seen

    assert made_yielding(make) == [min(19, before + NICER_BY)]
    assert niceness() == before


def test_what_making_raises_is_raised() -> None:
    with pytest.raises(ZeroDivisionError):
        made_yielding(lambda: 1 // 0)
