"""A sound device moved by hand: calls a speaker's callback as PortAudio does."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np

from station.clock import Clock, StreamClock
from station.errors import DeviceTrouble
from station.sound.round_trip import Recording

FS = 48_000
BLOCK = 480


class FakeDevice:
    """An output that has `latency_s` of buffer and an arbitrary stream time."""

    def __init__(self, clock: DeviceDrivenClock, latency_s: float = 0.04) -> None:
        self.clock = clock
        self.latency_s = latency_s
        self.stream_time_s = 1.7e9  # wall-clock time, as on Linux
        self.active = False
        self.closed = False
        self.underflow = False
        self.blocks: list[np.ndarray] = []
        self.sounds_s: list[float] = []  # when each block truly begins to sound
        self.trouble: str | None = None
        self.asked_latencies_s: list[float] = []
        self.drift = 0.0  # how much slower than nominal its quartz runs
        self.set_within: float = 0.0  # the wall clock is set so far within the next callback
        self._callback: Callable[..., None] | None = None
        self._played = 0
        clock.devices.append(self)

    def open(
        self, device_name: str | None, callback: Any, latency_s: float = 0.04
    ) -> tuple[FakeDevice, str, str | None]:
        self.asked_latencies_s.append(latency_s)
        if self.trouble:
            raise DeviceTrouble(self.trouble)
        self._callback = callback
        self._played = 0  # a device counts from its opening on
        self.latency_s = latency_s
        self.closed = False
        return self, "fake output", None

    @property
    def latency(self) -> float:
        return self.latency_s

    def start(self) -> None:
        self.active = True
        self.begin_s = self.clock.now_s()
        while self._played * BLOCK < self.latency_s * FS:
            self.call(0.0)  # the first blocks only fill the buffer

    def stop(self) -> None:
        self.active = False

    def close(self) -> None:
        self.closed = True

    def call(self, ahead_s: float) -> None:
        assert self._callback is not None
        out = np.full((BLOCK, 2), np.nan, dtype=np.float32)
        now_s = self.stream_time_s + self.clock.now_s()
        self.stream_time_s += self.set_within
        sounds_s = self.stream_time_s + self.clock.now_s() + ahead_s
        self.set_within = 0.0
        times = SimpleNamespace(currentTime=now_s, outputBufferDacTime=sounds_s)
        self._callback(out, BLOCK, times, SimpleNamespace(output_underflow=self.underflow))
        self.underflow = False
        self.sounds_s.append(self.due_s() + self.latency_s)
        self._played += 1
        self.blocks.append(out)

    def run_until(self, t_s: float) -> None:
        """Call for every block that falls due: each is asked for `latency_s` before it sounds."""
        while self.active and (self.due_s() <= t_s):
            self.clock.move_to(self.due_s())
            self.call(self.latency_s)

    def due_s(self) -> float:
        return self.begin_s + self._played * BLOCK / FS * (1.0 + self.drift) - self.latency_s

    def sound(self) -> np.ndarray:
        return np.concatenate(self.blocks)


class DeviceDrivenClock(StreamClock):
    """A clock moved by hand that keeps its fake devices going."""

    def __init__(self) -> None:
        super().__init__()
        self.devices: list[FakeDevice] = []

    def wait_until(self, t_s: float, timeout_s: float) -> bool:
        for device in self.devices:
            device.run_until(t_s)
        return super().wait_until(t_s, timeout_s)


class Room:
    """A microphone that hears a fake device, so much later, with an echo and noise."""

    name = "room"

    def __init__(self, device: FakeDevice, late_s: float, level: float = 0.1) -> None:
        self.device, self.late_s, self.level = device, late_s, level

    def start(self, clock: Clock) -> None:
        self.clock, self.begin_s = clock, clock.now_s()

    def stop(self) -> Recording:
        n = round((self.clock.now_s() - self.begin_s) * FS)
        heard = np.random.default_rng(5).normal(0.0, 0.003, n + FS)
        for late_s, share in ((self.late_s, 1.0), (self.late_s + 0.007, 0.4)):
            for block, t_s in zip(self.device.blocks, self.device.sounds_s, strict=True):
                at = round((t_s + late_s - self.begin_s) * FS)
                if 0 <= at < n:
                    heard[at : at + BLOCK] += self.level * share * block[:, 0]
        return Recording(heard[:n].astype(np.float32), lambda i: self.begin_s + i / FS)
