"""The models ahead of the loop: every frame, in order, the same at every run."""

from __future__ import annotations

import threading

import pytest
from loop_parts import FPS, Bench, FakeModel, FakeSource

from station.clock import StreamClock
from station.errors import DeviceTrouble
from station.live import AheadFeed
from station.ports import EndOfStream
from station.values import Frame


def fed(source: FakeSource, *models: FakeModel) -> tuple[AheadFeed, StreamClock]:
    clock = StreamClock()
    feed = AheadFeed(source, models, clock)
    feed.start(clock)
    return feed, clock


def all_of(feed: AheadFeed, clock: StreamClock, told: list[int]) -> None:
    """Take frames until something is raised."""
    while (seen := feed.next(0.02)) is not None:
        assert seen.frame is not None
        assert seen.frame.index == seen.pose.index
        assert clock.now_s() == seen.pose.t_s
        told.append(seen.pose.index)


def work_through(
    feed: AheadFeed, clock: StreamClock, until: type[Exception] = EndOfStream
) -> list[int]:
    """Take frames until this is raised, and stop the feed; return their indices."""
    told: list[int] = []
    try:
        with pytest.raises(until):
            all_of(feed, clock, told)
    finally:
        feed.stop()
    return told


def test_gives_every_frame_in_order_and_leads_the_clock() -> None:
    source = FakeSource(20)
    source.skip = {7, 8}
    feed, clock = fed(source, FakeModel())
    assert work_through(feed, clock) == [i for i in range(20) if i not in (7, 8)]
    assert (feed.captured, feed.dropped) == (20, 2)


def test_the_model_works_while_the_loop_has_the_frame_before() -> None:
    begun = threading.Event()

    def find(frame: Frame) -> None:
        if frame.index == 1:
            begun.set()

    feed, _ = fed(FakeSource(5), FakeModel(find))
    try:
        assert feed.next(0.02) is not None
        assert begun.wait(5.0)  # frame 1, of which the loop has not asked yet
    finally:
        feed.stop()


@pytest.mark.parametrize("slow", ["loop", "model"])
def test_anew_holds_for_the_frame_after_the_next_whoever_is_slow(slow: str) -> None:
    asked = threading.Event()

    class Model(FakeModel):
        def detect_anew(self) -> None:
            anew_before.append(len(self.found))

    def find(frame: Frame) -> None:
        if slow == "model" and frame.index == 4:
            assert asked.wait(5.0)
        if slow == "loop" and frame.index == 4:
            at_work.set()

    anew_before: list[int] = []
    at_work = threading.Event()
    feed, _ = fed(FakeSource(10), Model(find))
    try:
        for number in range(8):
            assert feed.next(0.02) is not None
            if number == 3:
                if slow == "loop":
                    assert at_work.wait(5.0)
                feed.detect_anew()
                asked.set()
    finally:
        feed.stop()
    assert anew_before == [5]


def test_two_models_work_at_once_on_frames_in_turns() -> None:
    both = threading.Barrier(2)

    def meet(frame: Frame) -> None:
        if frame.index < 2:
            both.wait(5.0)  # neither is done before the other has begun

    models = FakeModel(meet), FakeModel(meet)
    feed, clock = fed(FakeSource(9), *models)
    assert work_through(feed, clock) == list(range(9))
    assert models[0].found == [0, 2, 4, 6, 8]
    assert models[1].found == [1, 3, 5, 7]
    assert [model.closed for model in models] == [1, 1]


def test_anew_holds_for_each_models_next_frame() -> None:
    anew_before: list[tuple[int, int]] = []

    class Model(FakeModel):
        def __init__(self, number: int) -> None:
            super().__init__()
            self.number = number

        def detect_anew(self) -> None:
            anew_before.append((self.number, len(self.found)))

    feed, _ = fed(FakeSource(12), Model(0), Model(1))
    try:
        for number in range(12):
            assert feed.next(0.02) is not None
            if number == 3:
                feed.detect_anew()
    finally:
        feed.stop()
    # Of frame 3 it is asked while 4 and 5 are at work: 6 is the fourth of one, 7 of the other.
    assert sorted(anew_before) == [(0, 3), (1, 3)]


def test_runs_a_session_as_lock_step_does() -> None:
    plain = Bench(source=FakeSource(40))
    plain.run()
    ahead = Bench(source=FakeSource(40))
    ahead.feed = AheadFeed(ahead.source, (ahead.model, FakeModel()), ahead.clock)
    try:
        assert ahead.run().of_source
    finally:
        ahead.feed.stop()
    assert ahead.meter.pushed == plain.meter.pushed
    assert ahead.rows.rows == plain.rows.rows
    assert len(ahead.painter.scenes) == len(plain.painter.scenes)
    assert ahead.clock.now_s() == plain.clock.now_s() == 39 / FPS


@pytest.mark.parametrize("count", [1, 2])
@pytest.mark.parametrize("where", ["source", "model"])
def test_what_fails_comes_out_after_the_frames_before_it(where: str, count: int) -> None:
    fault = DeviceTrouble("it has failed")

    def fail(frame: Frame) -> None:
        if where == "model" and frame.index == 3:
            raise fault

    source = FakeSource(3, fault) if where == "source" else FakeSource(9)
    feed, clock = fed(source, *(FakeModel(fail) for _ in range(count)))
    assert work_through(feed, clock, DeviceTrouble) == [0, 1, 2]
    feed.stop()  # safe to repeat
    assert "station-pose" not in {thread.name for thread in threading.enumerate()}


def test_a_model_that_will_not_close_leaves_no_source_open() -> None:
    class Model(FakeModel):
        def close(self) -> None:
            raise RuntimeError("the graph broke")

    source = FakeSource(1)
    feed, _ = fed(source, Model())
    with pytest.raises(RuntimeError, match="broke"):
        feed.stop()
    assert source.stopped == 1


def test_one_that_never_started_closes_its_parts() -> None:
    source, model = FakeSource(1), FakeModel()
    AheadFeed(source, (model,), StreamClock()).stop()
    assert (source.stopped, model.closed) == (1, 1)
