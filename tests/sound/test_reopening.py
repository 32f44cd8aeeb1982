"""A sound device that goes away and comes back, moved by hand."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from fake_portaudio import FS, DeviceDrivenClock, FakeDevice

from station.errors import DeviceTrouble
from station.sound.speaker_portaudio import MOST_LATENCY_S, PortAudioSpeaker
from station.sound.tones import make_tones

TONES = make_tones(volume=0.6)
FIRST_S = 12.0


class Bench:
    """A speaker on a first fake device, and what opening again finds."""

    def __init__(self, first_try: int = 1, stream_ahead_s: float = 0.0) -> None:
        self.clock = DeviceDrivenClock()
        self.clock.move_to(FIRST_S)
        self.devices = [FakeDevice(self.clock)]
        self.tries_s: list[float] = []
        self.latencies_s: list[float] = []
        self._first_try = first_try
        self.speaker = PortAudioSpeaker(
            open_stream=self.devices[0].open,
            open_stream_anew=self.open_anew,
            aside=lambda work: work(),
        )
        self.speaker.start(self.clock)
        self.told_s: list[float] = []

    def open_anew(self, name: str | None, callback: Any, latency_s: float) -> Any:
        self.tries_s.append(self.clock.now_s())
        self.latencies_s.append(latency_s)
        if len(self.tries_s) < self._first_try:
            raise DeviceTrouble("still gone")
        self.devices.append(FakeDevice(self.clock, latency_s))
        return self.devices[-1].open(name, callback, latency_s)

    def go_on(self, seconds: float, each: Callable[[], None] | None = None) -> None:
        for _ in range(round(60 * seconds)):
            self.clock.wait_until(self.clock.now_s() + 1 / 60, 1)
            if each is not None:
                each()
            self.told_s += [event.t_s for event in self.speaker.heard() if event.kind == "beat"]

    def lose(self) -> None:
        self.devices[-1].active = False
        self.clock.devices.clear()

    def played_s(self, device: FakeDevice) -> list[float]:
        """When ticks sounded, found in what the device was given."""
        sound, tick = device.sound()[:, 0], TONES.beat[:, 0]
        starts = np.flatnonzero((sound[1:] != 0.0) & (sound[:-1] == 0.0)) + 1
        return [
            device.begin_s + float(i - np.flatnonzero(tick)[0]) / FS
            for i in starts
            if np.array_equal(sound[i : i + 400], tick[np.flatnonzero(tick)[0] :][:400])
        ]


def test_the_beat_comes_back_in_its_place() -> None:
    bench = Bench(first_try=3)
    bench.speaker.set_beat(173)
    bench.go_on(3.0)
    before = bench.played_s(bench.devices[0])
    bench.lose()
    bench.go_on(14.0)
    after = bench.played_s(bench.devices[1])
    bench.speaker.stop()
    assert len(before) >= 7
    assert len(after) >= 10
    period_s = 60.0 / 173.0
    places = (np.array(after) - before[0]) / period_s
    assert np.abs(places - np.round(places)).max() * period_s < 0.001
    # What was told in between, for the screen, lies on the same beat without a gap.
    gaps = np.diff(bench.told_s)
    np.testing.assert_allclose(gaps, period_s, atol=0.001)
    assert "back after" in str(bench.speaker.notice)
    counts = bench.speaker.counts()
    assert counts.times_lost == 1
    assert 7.0 < counts.silent_s < 8.5  # tries after 1, 2 and 4 s, then a clock has to be learned


def test_tries_come_at_growing_intervals_and_never_end() -> None:
    bench = Bench(first_try=1000)
    bench.go_on(1.0)
    bench.lose()
    bench.go_on(60.0)
    waits = np.diff(bench.tries_s)
    np.testing.assert_allclose(waits, [2, 4, 8, 10, 10, 10, 10], atol=0.05)
    assert "trying again" in str(bench.speaker.notice)
    bench.speaker.stop()


def test_the_notice_of_the_return_goes_away() -> None:
    bench = Bench()
    bench.go_on(1.0)
    bench.lose()
    bench.go_on(3.0)
    assert "back after" in str(bench.speaker.notice)
    bench.go_on(10.1)
    assert bench.speaker.notice is None
    bench.speaker.stop()


def test_a_device_may_be_lost_twice() -> None:
    bench = Bench()
    bench.speaker.set_beat(180)
    for _ in range(2):
        bench.go_on(2.0)
        bench.lose()
        bench.go_on(3.0)
    bench.speaker.stop()
    assert bench.speaker.counts().times_lost == 2
    assert len(bench.played_s(bench.devices[2])) >= 3
    np.testing.assert_allclose(np.diff(bench.told_s), 1 / 3, atol=0.001)


def test_gaps_are_answered_by_more_latency_up_to_a_cap() -> None:
    bench = Bench()
    bench.speaker.set_beat(180)
    bench.go_on(1.0)

    def starve() -> None:
        bench.devices[-1].underflow = True

    bench.go_on(0.2, starve)
    assert "gaps" in str(bench.speaker.notice)
    bench.go_on(5.0, starve)
    assert bench.latencies_s == [0.08, 0.16]
    assert bench.speaker.latency_s == bench.speaker.counts().latency_s == MOST_LATENCY_S
    assert bench.speaker.counts().times_lost == 0
    bench.go_on(2.0)
    after = bench.played_s(bench.devices[-1])
    places = (np.array(after) - bench.told_s[0]) * 3.0
    assert np.abs(places - np.round(places)).max() < 0.003
    bench.speaker.stop()


def test_two_gaps_in_ten_seconds_change_nothing() -> None:
    bench = Bench()
    for _ in range(4):
        bench.devices[0].underflow = True
        bench.go_on(5.5)
    assert bench.latencies_s == []
    assert bench.speaker.counts().underflows == 4
    bench.speaker.stop()


@pytest.mark.parametrize("jump_s", [5.0, -5.0])
def test_a_wall_clock_set_within_a_callback_moves_nothing(jump_s: float) -> None:
    bench = Bench()
    bench.speaker.set_beat(180)
    bench.go_on(3.0)
    device = bench.devices[0]
    device.call(device.latency_s + jump_s)  # set between the two readings of one block
    device.stream_time_s += jump_s
    bench.go_on(3.0)
    np.testing.assert_allclose(np.diff(bench.told_s), 1 / 3, atol=1e-6)
    assert bench.speaker.notice is None
    bench.speaker.stop()


def test_a_stop_while_away_closes_what_had_opened() -> None:
    bench = Bench()
    bench.go_on(1.0)
    bench.lose()
    bench.go_on(1.1)
    bench.speaker.stop()
    assert all(device.closed for device in bench.devices)
