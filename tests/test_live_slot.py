"""The newest-frame slot and the worker thread."""

from __future__ import annotations

import threading

import pytest

from station.errors import StationError
from station.live.slot import NewestSlot
from station.live.worker import Worker


def test_gives_what_was_put_in_once() -> None:
    slot: NewestSlot[int] = NewestSlot()
    slot.put(1)
    assert slot.take(0.0) == 1
    assert slot.take(0.0) is None
    assert slot.dropped == 0


def test_the_newest_wins_and_the_rest_is_counted() -> None:
    slot: NewestSlot[int] = NewestSlot()
    for item in (1, 2, 3):
        slot.put(item)
    assert slot.take(0.0) == 3
    assert slot.dropped == 2


def test_a_larger_place_keeps_order_and_drops_the_oldest() -> None:
    slot: NewestSlot[int] = NewestSlot(capacity=2)
    for item in (1, 2, 3):
        slot.put(item)
    assert [slot.take(0.0), slot.take(0.0), slot.take(0.0)] == [2, 3, None]
    assert slot.dropped == 1


def test_waits_for_so_long_and_takes_what_came_meanwhile() -> None:
    waited: list[float] = []

    def wait(ready: threading.Condition, timeout_s: float) -> None:
        waited.append(timeout_s)
        slot.put(7)  # another thread's doing, while this one waits

    slot: NewestSlot[int] = NewestSlot(wait=wait)
    assert slot.take(0.25) == 7
    assert waited == [0.25]


def test_waits_in_vain() -> None:
    slot: NewestSlot[int] = NewestSlot(wait=lambda ready, timeout_s: None)
    assert slot.take(0.25) is None


def test_closing_wakes_keeps_what_is_inside_and_takes_no_more() -> None:
    waits: list[float] = []
    slot: NewestSlot[int] = NewestSlot(wait=lambda ready, timeout_s: waits.append(timeout_s))
    slot.put(1)
    slot.close()
    slot.put(2)
    assert not slot.over
    assert slot.take(1.0) == 1
    assert slot.over
    assert slot.take(1.0) is None
    assert waits == []  # nothing can come: nobody waits
    assert slot.dropped == 0  # what comes after the end is wanted by nobody: no drop


def test_refuses_a_place_for_nothing() -> None:
    with pytest.raises(ValueError, match="1 item or more"):
        NewestSlot(capacity=0)


def test_a_worker_repeats_its_turn_until_there_is_no_more() -> None:
    turns = iter([True, True, False])
    ended = threading.Event()
    worker = Worker("test-worker", lambda: next(turns), ended.set)
    worker.start()
    assert worker.join(5.0)
    assert ended.is_set()
    assert next(turns, None) is None
    worker.raise_failure()


def test_a_worker_keeps_its_exception_and_raises_it_once() -> None:
    def turn() -> bool:
        raise OSError("the cable is out")

    ended = threading.Event()
    worker = Worker("test-worker", turn, ended.set)
    worker.start()
    assert worker.join(5.0)
    assert ended.is_set()
    with pytest.raises(OSError, match="cable"):
        worker.raise_failure()
    worker.raise_failure()


def test_a_worker_ended_by_an_exit_becomes_an_error_of_ours() -> None:
    def turn() -> bool:
        raise SystemExit(3)

    worker = Worker("test-worker", turn)
    worker.start()
    assert worker.join(5.0)
    with pytest.raises(StationError, match="test-worker"):
        worker.raise_failure()


def test_a_worker_stops_when_asked_and_carries_its_name() -> None:
    names: list[str] = []
    begun = threading.Event()

    def turn() -> bool:
        names.append(threading.current_thread().name)
        begun.set()
        return True

    worker = Worker("test-worker", turn)
    worker.start()
    assert begun.wait(5.0)
    worker.ask_to_stop()
    assert worker.join(5.0)
    assert set(names) == {"test-worker"}


def test_a_worker_that_never_started_can_be_joined() -> None:
    assert Worker("test-worker", lambda: False).join(0.0)
