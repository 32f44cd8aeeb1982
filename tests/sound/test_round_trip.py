from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from fake_portaudio import BLOCK, FS, DeviceDrivenClock, FakeDevice, Room

from station.clock import Clock
from station.errors import DeviceTrouble
from station.sound.microphone import PortAudioMicrophone
from station.sound.round_trip import find_tick, measure_round_trip
from station.sound.speaker_portaudio import PortAudioSpeaker
from station.sound.tones import beat_tone


@pytest.fixture
def clock() -> DeviceDrivenClock:
    return DeviceDrivenClock()


@pytest.fixture
def device(clock: DeviceDrivenClock) -> FakeDevice:
    return FakeDevice(clock)


@pytest.fixture
def speaker(clock: DeviceDrivenClock, device: FakeDevice) -> Iterator[PortAudioSpeaker]:
    speaker = PortAudioSpeaker(open_stream=device.open)
    speaker.start(clock)
    yield speaker
    speaker.stop()


@pytest.mark.parametrize("late_s", [0.0, 0.0123, 0.2])
def test_it_finds_how_much_later_than_told_a_tick_arrives(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice, late_s: float
) -> None:
    found = measure_round_trip(speaker, Room(device, late_s), clock)
    assert (found.ticks, found.found) == (5, 5)
    assert found.told_s == pytest.approx(late_s, abs=2 / FS)
    assert found.spread_s <= 2 / FS
    # At once a block is prepared, 40 ms before it sounds.
    assert late_s + 0.04 <= found.asked_s <= late_s + 0.04 + BLOCK / FS + 1e-3
    clock.wait_until(clock.now_s() + 3.0, 3.0)
    assert speaker.heard() == ()  # no beat is left going


def test_a_microphone_that_hears_nothing_is_told(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice
) -> None:
    with pytest.raises(DeviceTrouble, match="0 of 5 ticks were heard by 'room'"):
        measure_round_trip(speaker, Room(device, 0.01, level=0.0), clock)


def test_a_tick_is_found_under_a_hum_and_none_in_noise() -> None:
    t = np.arange(FS) / FS
    sound = (0.3 * np.sin(2 * np.pi * 100 * t)).astype(np.float32)
    tick = beat_tone(FS)
    assert find_tick(sound) is None
    sound[20_000 : 20_000 + len(tick)] += 0.05 * tick
    assert find_tick(sound) == 20_000
    noise = np.random.default_rng(1).normal(0.0, 0.1, FS).astype(np.float32)
    assert find_tick(noise) is None
    assert find_tick(np.zeros(FS, np.float32)) is None
    assert find_tick(np.zeros(10, np.float32)) is None


class FakeInput:
    def __init__(self, trouble: bool = False) -> None:
        self.trouble, self.closed = trouble, False

    def open(self, name: str | None, callback: Any) -> tuple[Any, str]:
        self.callback = callback
        return self, "fake input"

    def start(self) -> None:
        if self.trouble:
            raise RuntimeError("busy")

    def stop(self) -> None: ...

    def close(self) -> None:
        self.closed = True


def test_the_microphone_knows_when_each_sample_arrived(clock: DeviceDrivenClock) -> None:
    device = FakeInput()
    microphone = PortAudioMicrophone(open_input=device.open)
    microphone.start(clock)
    for k in range(100):
        clock.move_to(3.0 + (k + 1) * BLOCK / FS)  # a block is given when its last sample is there
        data = np.full((BLOCK, 1), float(k), np.float32)
        times = SimpleNamespace(currentTime=1e9, inputBufferAdcTime=1e9 - BLOCK / FS)
        device.callback(data, BLOCK, times, None)
        data.fill(-1.0)  # PortAudio's own memory
    recording = microphone.stop()
    assert device.closed
    assert microphone.name == "fake input"
    assert recording.samples.shape == (100 * BLOCK,)
    assert recording.samples[5 * BLOCK] == 5.0
    assert recording.at(FS) == pytest.approx(4.0, abs=1e-6)


def test_an_input_that_does_not_start_is_a_devices_trouble(clock: DeviceDrivenClock) -> None:
    device = FakeInput(trouble=True)
    with pytest.raises(DeviceTrouble, match="does not start: busy"):
        PortAudioMicrophone(open_input=device.open).start(clock)
    assert device.closed


def test_an_unknown_input_is_told(monkeypatch: pytest.MonkeyPatch, clock: Clock) -> None:
    names = [{"name": "Line in", "max_input_channels": 2}, {"name": "Out", "max_input_channels": 0}]
    module = SimpleNamespace(PortAudioError=OSError, query_devices=lambda *_: names)
    monkeypatch.setitem(__import__("sys").modules, "sounddevice", module)
    with pytest.raises(DeviceTrouble, match=r"named 'bay' \(there are: Line in\)"):
        PortAudioMicrophone("bay").start(clock)
