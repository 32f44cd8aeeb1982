"""Models side by side on a live source: in order, none held up for good, all ended."""

from __future__ import annotations

import threading

import pytest
from loop_parts import FakeModel, FakeSource

from station.clock import StreamClock
from station.errors import DeviceTrouble
from station.live import ThreadedFeed
from station.live.pose_threads import HELD_BACK
from station.ports import EndOfStream
from station.values import Frame


def take_all(feed: ThreadedFeed, told: list[int]) -> None:
    """Take poses until something is raised."""
    while True:
        seen = feed.next(0.02)
        if seen is not None:
            told.append(seen.pose.index)


def all_of(feed: ThreadedFeed) -> list[int]:
    """Take poses until the source's end."""
    told: list[int] = []
    with pytest.raises(EndOfStream):
        take_all(feed, told)
    return told


def test_the_other_model_takes_the_next_frame_and_their_order_holds() -> None:
    first_begun, second_begun, second_done = (threading.Event() for _ in range(3))

    def receive(index: int) -> None:
        if index == 2:
            assert first_begun.wait(5.0)
        if index == 3:
            assert second_begun.wait(5.0)  # both are at work, on 1 and 2

    def find(frame: Frame) -> None:
        if frame.index == 1:
            first_begun.set()
            assert second_done.wait(5.0)  # 2 is done first
        if frame.index == 2:
            second_begun.set()

    class Model(FakeModel):
        def find(self, frame: Frame):  # type: ignore[no-untyped-def]
            pose = super().find(frame)
            if frame.index == 2:
                second_done.set()
            return pose

    feed = ThreadedFeed(FakeSource(4, before=receive), Model(find), Model(find))
    feed.start(StreamClock())
    try:
        assert all_of(feed) == [0, 1, 2, 3]
    finally:
        feed.stop()


def test_a_model_that_hangs_holds_nobody_up_and_is_known_by_its_turns() -> None:
    hangs = threading.Event()
    many = HELD_BACK + 5

    def receive(index: int) -> None:
        if index > 1:
            assert taken[index - 1].wait(5.0)  # nothing is left out

    def find(frame: Frame) -> None:
        taken[frame.index].set()
        if frame.index == 1:
            assert hangs.wait(5.0)

    taken = [threading.Event() for _ in range(many)]
    feed = ThreadedFeed(FakeSource(many, before=receive), FakeModel(find), FakeModel(find))
    feed.start(StreamClock())
    try:
        told: list[int] = []
        while not told or told[-1] < many - 1:
            seen = feed.next(0.02)
            if seen is not None:
                told.append(seen.pose.index)
        assert told == [0, *range(2, many)]
        assert feed.dropped == 1
        assert sorted(feed.ticks[1:])[0] == 1
    finally:
        hangs.set()
        feed.stop()
    assert "station-pose" not in {thread.name for thread in threading.enumerate()}


def test_one_models_failure_ends_the_other_and_is_told_after_what_came_before() -> None:
    fault = DeviceTrouble("it has failed")

    def fail(frame: Frame) -> None:
        if frame.index == 3:
            raise fault

    # every frame waits until the one before was taken, so that none is left out
    def receive(index: int) -> None:
        if 1 < index < 5:
            assert taken[index - 1].wait(5.0)

    def find(frame: Frame) -> None:
        taken[frame.index].set()
        fail(frame)

    taken = [threading.Event() for _ in range(10**3)]
    models = FakeModel(find), FakeModel(find)
    feed = ThreadedFeed(FakeSource(10**3, before=receive), *models)
    feed.start(StreamClock())
    told: list[int] = []
    try:
        with pytest.raises(DeviceTrouble, match="it has failed"):
            take_all(feed, told)
    finally:
        feed.stop()
    assert told[:3] == [0, 1, 2]
    assert 3 not in told
    assert [model.closed for model in models] == [1, 1]


def test_both_models_detect_afresh_when_asked_once_each() -> None:
    asked = threading.Event()
    told: list[str] = []

    class Model(FakeModel):
        def __init__(self, name: str) -> None:
            super().__init__(self.look)
            self.name = name

        def look(self, frame: Frame) -> None:
            taken[frame.index].set()
            if frame.index in (1, 2):  # each has one frame in hand when it is asked
                assert asked.wait(5.0)
            if frame.index == 3:  # so that the other one takes the next
                assert taken[4].wait(5.0)

        def detect_anew(self) -> None:
            told.append(self.name)

    def receive(index: int) -> None:
        if index > 1:
            assert taken[index - 1].wait(5.0)

    taken = [threading.Event() for _ in range(20)]
    feed = ThreadedFeed(FakeSource(20, before=receive), Model("a"), Model("b"))
    feed.start(StreamClock())
    try:
        assert taken[1].wait(5.0)
        assert taken[2].wait(5.0)
        assert told == []
        feed.detect_anew()
        asked.set()
        assert all_of(feed)[-1] == 19
    finally:
        feed.stop()
    assert sorted(told) == ["a", "b"]
