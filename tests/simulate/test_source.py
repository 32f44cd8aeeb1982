"""The simulated source: pacing, late frames, the end, hearing, truth, ownership of pictures."""

from __future__ import annotations

import threading
from collections.abc import Sequence

import numpy as np
import pytest

from station.clock import StreamClock
from station.errors import BadInput
from station.ports import EndOfStream, FrameSource, Listener, TruthTeller
from station.simulate.figure import Arm, Figure, Leg
from station.simulate.picture import PictureOptions, demo_view
from station.simulate.source import SimulatedSource
from station.values import Heard, HopsAsked, Side, TrueStep


class Statue:
    """A runner that stands on a running belt and writes down what it is asked and told."""

    def __init__(self) -> None:
        self.asked_s: list[float] = []
        self.hops: list[tuple[tuple[int, ...], Side]] = []
        self.heard: list[Heard] = []
        self.belts: list[float] = []

    def figure_at(self, t_s: float) -> Figure:
        self.asked_s.append(t_s)
        at = np.array
        leg = Leg(
            at([0.0, 0.9]), at([0.02, 0.5]), at([0.0, 0.09]), at([-0.08, 0.03]), at([0.18, 0.01]),
            at([-0.07, 0.0]), at([0.11, 0.0]), at([0.17, 0.0]), True,
        )  # fmt: skip
        arm = Arm(at([0.0, 1.4]), at([-0.1, 1.1]), at([0.1, 1.0]))
        both_legs, both_arms = {"left": leg, "right": leg}, {"left": arm, "right": arm}
        return Figure(t_s, both_legs, both_arms, at([0.05, 1.6]), at([0.15, 1.6]), 1.75, 3.0 * t_s)

    def hear(self, event: Heard) -> None:
        self.heard.append(event)

    def set_belt(self, speed_mps: float) -> None:
        self.belts.append(speed_mps)

    def hop(self, rounds: Sequence[int], first_foot: Side) -> None:
        self.hops.append((tuple(rounds), first_foot))

    def truth(self) -> tuple[TrueStep, ...]:
        return tuple(TrueStep(t, t + 0.25, "left", 0.05, 6.0) for t in (0.1, 0.45, 0.8, 1.15))


class HandClock:
    """A clock that says how long it was asked to wait and only moves by hand."""

    def __init__(self) -> None:
        self.t_s = 0.0
        self.waits: list[tuple[float, float]] = []

    def now_s(self) -> float:
        return self.t_s

    def wait_until(self, t_s: float, timeout_s: float) -> bool:
        self.waits.append((t_s, timeout_s))
        return self.t_s >= t_s


def source(runner: Statue, **more: object) -> SimulatedSource:
    settings: dict[str, object] = {"fps": 10.0, "duration_s": 1.0} | more
    return SimulatedSource(runner, demo_view(160, 90), 160, 90, **settings)  # type: ignore[arg-type]


def test_it_is_a_source_that_hears_and_tells_the_truth() -> None:
    it: FrameSource = source(Statue())
    assert isinstance(it, Listener)
    assert isinstance(it, TruthTeller)


def test_start_tells_size_rate_and_count() -> None:
    info = source(Statue(), name="demo").start(StreamClock(), paced=False)
    assert (info.name, info.width, info.height, info.fps) == ("demo", 160, 90, 10.0)
    assert not info.live
    assert info.frames == 10
    assert source(Statue(), duration_s=None).start(StreamClock(), False).frames is None
    assert source(Statue(), duration_s=0.35).start(StreamClock(), False).frames == 4


@pytest.mark.parametrize("paced", [True, False])
def test_every_frame_comes_in_order_at_its_own_time_and_then_the_end(paced: bool) -> None:
    runner, clock = Statue(), StreamClock()
    it = source(runner)
    it.start(clock, paced)
    frames = [it.receive(0.5) for _ in range(10)]
    assert [f.index for f in frames if f] == list(range(10))
    assert [f.t_s for f in frames if f] == pytest.approx([i / 10 for i in range(10)])
    assert runner.asked_s == pytest.approx([i / 10 for i in range(10)])
    assert clock.now_s() == pytest.approx(0.9 if paced else 0.0)
    for _ in range(2):
        with pytest.raises(EndOfStream):
            it.receive(0.5)
    it.stop()


def test_paced_it_waits_for_the_frames_time_and_gives_late_ones_at_once() -> None:
    runner, clock = Statue(), HandClock()
    it = source(runner)
    it.start(clock, paced=True)
    assert it.receive(0.02) is not None
    assert it.receive(0.02) is None
    assert clock.waits[-1] == (pytest.approx(0.1), 0.02)
    assert len(runner.asked_s) == 1  # nothing is drawn before its time
    clock.t_s = 0.35
    late = [it.receive(0.02) for _ in range(4)]
    assert [f.index for f in late if f] == [1, 2, 3]
    assert late[3] is None
    it.stop()


def test_a_picture_given_out_stays_as_it_was() -> None:
    it = source(Statue(), options=PictureOptions(noise=3.0))
    it.start(StreamClock(), paced=False)
    first = it.receive(0.0)
    assert first is not None
    copy = first.image.copy()
    while True:
        try:
            later = it.receive(0.0)
        except EndOfStream:
            break
        assert later is not None
        assert not np.shares_memory(later.image, first.image)
    assert np.array_equal(first.image, copy)
    with pytest.raises(ValueError, match="read-only"):
        first.image[0, 0] = 0


def test_what_is_heard_reaches_the_runner_before_the_next_frame_in_order() -> None:
    runner = Statue()
    it = source(runner)
    it.start(StreamClock(), paced=False)
    it.receive(0.0)
    beats = [Heard("beat", 0.05 * i, period_s=0.05) for i in range(40)]

    def tell() -> None:
        for beat in beats:
            it.hear(beat)

    thread = threading.Thread(target=tell)
    thread.start()
    thread.join(5.0)
    assert runner.heard == []
    it.receive(0.0)
    assert runner.heard == beats
    assert it.heard_dropped == 0
    it.stop()


def test_the_newest_hops_asked_for_begin_with_the_next_frame() -> None:
    runner = Statue()
    it = source(runner)
    it.start(StreamClock(), paced=False)
    it.ask_hops(HopsAsked((8, 4), "left"))
    it.ask_hops(HopsAsked((2,), "right"))
    assert runner.hops == []
    for _ in range(2):
        it.receive(0.0)
    assert runner.hops == [((2,), "right")]


def test_events_that_nobody_fetches_are_bounded_and_counted() -> None:
    runner = Statue()
    it = source(runner)
    it.start(StreamClock(), paced=False)
    for i in range(1100):
        it.hear(Heard("beat", float(i)))
    it.receive(0.0)
    assert it.heard_dropped == 76
    assert [runner.heard[0].t_s, runner.heard[-1].t_s] == [76.0, 1099.0]


def test_the_truth_covers_only_what_was_shown() -> None:
    it = source(Statue())
    assert it.truth() == ()
    it.start(StreamClock(), paced=False)
    for _ in range(6):
        it.receive(0.0)
    assert [step.t_contact_s for step in it.truth()] == [0.1, 0.45]
    it.stop()
    it.stop()
    assert len(it.truth()) == 2
    with pytest.raises(EndOfStream):
        it.receive(0.0)


def test_an_exposure_is_drawn_about_the_frames_time() -> None:
    runner = Statue()
    it = source(runner, options=PictureOptions(exposure_s=0.05))
    it.start(StreamClock(), paced=False)
    it.receive(0.0)
    it.receive(0.0)
    assert runner.asked_s == sorted(runner.asked_s)
    assert runner.asked_s[0] == 0.0
    assert np.mean(runner.asked_s[-5:]) == pytest.approx(0.1)
    assert runner.asked_s[-1] - runner.asked_s[-5] == pytest.approx(0.04)


def test_all_wrong_settings_are_told_at_once() -> None:
    with pytest.raises(BadInput) as caught:
        SimulatedSource(Statue(), demo_view(), 4, 4, fps=0.0, duration_s=-1.0)
    assert len(caught.value.mistakes) == 3
    with pytest.raises(BadInput, match="exposure"):
        source(Statue(), options=PictureOptions(exposure_s=0.2))
